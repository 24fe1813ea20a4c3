/** The code of a pairing under way: as text to type, as a square to read, and what the device's browser will warn of. */
import type { JSX } from "preact";
import { duration } from "../core/format";
import { type Code, fingerprintLines, squarePath } from "../core/visitor";

interface Props {
  readonly code: Code;
  readonly left_s: number;
  readonly onEnd: () => void;
}

export function PairingCode({ code, left_s, onEnd }: Props): JSX.Element {
  const lines = fingerprintLines(code.fingerprint);
  return (
    <div class="code">
      <Square rows={code.square} />
      <div>
        <ol>
          <li>On the device, read the square with its camera, or open <b class="address">{code.url}</b></li>
          {lines.length > 0 && <li>Its browser warns once, since nobody else vouches for this PC. Look at the certificate there: go on only if its SHA-256 is <Fingerprint lines={lines} /></li>}
          <li>Type the code, if it does not stand there already: <b class="letters">{code.code}</b></li>
        </ol>
        <p class="second">One device, once, within {duration(Math.ceil(left_s))}. It then looks and marks; what it wants to change or delete is asked here.</p>
        <div class="row"><button class="btn" onClick={onEnd}>Show no code</button></div>
      </div>
    </div>
  );
}

function Fingerprint({ lines }: { readonly lines: readonly string[] }): JSX.Element {
  return <span class="fingerprint">{lines.map((line) => <span key={line}>{line}</span>)}</span>;
}

/** Always dark on white: many cameras read no other. */
function Square({ rows }: { readonly rows: readonly string[] }): JSX.Element {
  const { d, side } = squarePath(rows);
  return (
    <svg class="square" viewBox={`0 0 ${side} ${side}`} role="img" aria-label="The address with the code, as a square code" shape-rendering="crispEdges">
      <rect class="light" width={side} height={side} />
      <path class="dark" d={d} />
    </svg>
  );
}
