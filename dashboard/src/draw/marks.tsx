/** The few signs of the page: the house mark, the caution's triangle, the list's arrow. */
import type { JSX } from "preact";

export function HouseMark(): JSX.Element {
  return (
    <svg class="mark" width="26" height="26" viewBox="0 0 26 26" aria-hidden="true">
      <path d="M13 3a10 10 0 1 1-8.7 5M7.4 9.7A6.4 6.4 0 1 1 13 19.4" fill="none" stroke="currentColor" stroke-width="2.4" />
    </svg>
  );
}

export function CautionMark(): JSX.Element {
  return (
    <svg class="sign" width="22" height="20" viewBox="0 0 22 20" aria-hidden="true">
      <path d="M11 1.5 21 18.5H1Z" fill="none" stroke="currentColor" stroke-width="2" stroke-linejoin="round" />
      <path d="M11 7v5.5M11 14.4v2" stroke="currentColor" stroke-width="2" />
    </svg>
  );
}

export function AlarmMark(): JSX.Element {
  return (
    <svg class="sign" width="34" height="34" viewBox="0 0 34 34" aria-hidden="true">
      <path d="M2 2H32V32H2ZM17 7V20M17 24.5V28" fill="none" stroke="currentColor" stroke-width="3.6" />
    </svg>
  );
}

export function OpensList(): JSX.Element {
  return (
    <svg width="10" height="7" viewBox="0 0 10 7" aria-hidden="true">
      <path d="M1 1l4 4 4-4" fill="none" stroke="currentColor" stroke-width="1.6" />
    </svg>
  );
}

/** A sign speaks for something (a tick), against it (a cross), or has not been seen (dashes). */
export function SpeaksMark({ speaks }: { speaks: "for" | "against" | "missing" }): JSX.Element {
  return (
    <svg class="speaks" width="16" height="16" viewBox="0 0 16 16" aria-hidden="true">
      <path
        d={speaks === "for" ? "M2 8.5 6 12.5 14 3.5" : speaks === "against" ? "M3 3 13 13M13 3 3 13" : "M1 8H5M6.5 8H10M11.5 8H15"}
        fill="none" stroke="currentColor" stroke-width={speaks === "missing" ? 1.8 : 2.2}
      />
    </svg>
  );
}
