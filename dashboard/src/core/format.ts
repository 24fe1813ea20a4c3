/**
 * Numbers, times and symbols as the page writes them: real minus, thin space for thousands, point for
 * decimals, no-break space before the unit. A number never stands without its unit, a unit never
 * behind a dash.
 */

export const DASH = "–";
const THIN = "\u2009";
const NO_BREAK = "\u00a0";
const MINUS = "\u2212";

/** 2975 -> "2 975", -14.2 -> "−14.2"; what rounds to zero has no sign. */
export function number(value: number, digits = 0): string {
  if (!Number.isFinite(value)) return DASH;
  const [whole = "", fraction] = Math.abs(value).toFixed(digits).split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, THIN);
  const sign = value < 0 && Number(value.toFixed(digits)) !== 0 ? MINUS : "";
  return sign + grouped + (fraction ? `.${fraction}` : "");
}

export function withUnit(text: string, unit: string): string {
  if (text === DASH || unit === "") return text;
  return unit === "°" ? text + unit : text + NO_BREAK + unit;
}

/** A sentence of the service, its figures set as ours are: "rose to 1380 r/min" -> "rose to 1 380 r/min". */
export function typeset(text: string): string {
  return text.replace(/(?<![\w:.-])(-?)(\d+)(\.\d+)? (?=[A-Za-z%Ω°±])/g, (_, minus: string, whole: string, fraction = "") =>
    (minus ? MINUS : "") + whole.replace(/\B(?=(\d{3})+$)/g, THIN) + fraction + NO_BREAK);
}

/** Three significant digits or so, no more than three decimals, for peaks and ranges whose digits nobody fixed. */
export function rough(value: number, unit: string): string {
  const size = Math.abs(value);
  if (size < 0.0005) return withUnit("0", unit);
  return withUnit(number(value, size >= 99.95 ? 0 : size >= 9.995 ? 1 : size >= 0.0995 ? 2 : 3), unit);
}

/** Decimals of a slip in per cent: 8.01, 99.2; three figures at most, and one decimal where it changes meanwhile. */
export function slipDigits(percent: number, changing: boolean): number {
  const size = Math.abs(percent);
  return size >= 99.95 ? 0 : changing || size >= 9.995 ? 1 : 2;
}

/** What is too small to be told: 0.0193 -> "< 0.02 A". Rounded up, so that it stays true; with `digits` decimals at most. */
export function below(least: number, unit: string, digits = 3): string {
  const step = 10 ** Math.max(Math.floor(Math.log10(least)) - 1, -digits);
  const end = Number((Math.ceil(least / step - 1e-6) * step).toPrecision(2));
  return `<${NO_BREAK}${withUnit(number(end, (String(end).split(".")[1] ?? "").length), unit)}`;
}

/** 842 -> "14 min 02 s", 37230 -> "10 h 20 min", 0.48 -> "0.48 s". */
export function duration(seconds: number): string {
  if (seconds < 10 && seconds !== Math.round(seconds)) return withUnit(number(seconds, 2), "s");
  const whole = Math.round(seconds);
  const [h, m, s] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  const two = (part: number): string => String(part).padStart(2, "0");
  if (h) return `${h}${NO_BREAK}h ${two(m)}${NO_BREAK}min`;
  return m ? `${m}${NO_BREAK}min ${two(s)}${NO_BREAK}s` : `${s}${NO_BREAK}s`;
}

/** How old something is: "20 ms", "2.4 s", then as a duration. */
export function age(seconds: number): string {
  const kept = Math.max(0, seconds);
  if (kept < 0.005) return withUnit("<\u00a010", "ms"); // a page cannot know it better
  if (kept < 0.995) return withUnit(number(Math.round(kept * 100) * 10), "ms");
  return kept < 60 ? withUnit(number(kept, 1), "s") : duration(kept);
}

/** How long a short stretch is: "13 ms", "1.2 s". */
export function stretch(seconds: number): string {
  return seconds < 0.9995 ? withUnit(number(seconds * 1000, seconds < 0.01 ? 1 : 0), "ms") : age(seconds);
}

/** UTC seconds as local time of day, 24 hours: "14:16:09", with tenths "14:16:09.4" (cut, not rounded). */
export function clock(utc_s: number, tenths = false): string {
  const kept = Math.floor(utc_s * 10 + 1e-6);
  const at = new Date(Math.floor(kept / 10) * 1000);
  const parts = [at.getHours(), at.getMinutes(), at.getSeconds()].map((part) => String(part).padStart(2, "0"));
  return parts.join(":") + (tenths ? `.${kept % 10}` : "");
}

const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];

/** UTC seconds as the local day: "25 Nov", with the year where it is not that of `now_utc_s`. */
export function day(utc_s: number, now_utc_s = utc_s): string {
  const at = new Date(utc_s * 1000);
  const year = at.getFullYear() === new Date(now_utc_s * 1000).getFullYear() ? "" : ` ${at.getFullYear()}`;
  return `${at.getDate()}${NO_BREAK}${MONTHS[at.getMonth()]}${year}`;
}

/** Bytes as a size: "31 MB", "4.6 MB", "12 kB". */
export function size(bytes: number): string {
  const [value, unit] = bytes >= 1e9 ? [bytes / 1e9, "GB"] : bytes >= 1e6 ? [bytes / 1e6, "MB"] : [bytes / 1e3, "kB"];
  return withUnit(number(value, value < 9.95 ? 1 : 0), unit);
}

/** "cos φ_1" -> ["cos φ", "1"]; the second part is set low. */
export function symbolParts(symbol: string): readonly [string, string] {
  const at = symbol.indexOf("_");
  return at < 0 ? [symbol, ""] : [symbol.slice(0, at), symbol.slice(at + 1)];
}

/** "permanent_split_capacitor" -> "permanent split capacitor". */
export function plain(key: string): string {
  return key.replaceAll("_", " ");
}

/** A type of motor by its key: "permanent magnet DC". */
export function typeWords(key: string): string {
  return plain(key).replace(/\bdc\b/, "DC");
}

export function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
