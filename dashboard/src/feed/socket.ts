/**
 * The live socket: connects, tries again, unpacks, and says what was drawn. Puts at most one picture
 * an animation frame into the store; a hidden page answers at once and draws nothing.
 */
import type { Hello, Picture } from "../core/picture";
import type { Link, Store } from "../core/store";
import { unpack } from "../core/unpack";

const RETRY_MS = [500, 1000, 2000, 3000]; // the last one for ever: a person may start the service at any time

/** Runs something at the page's next animation frame; given from outside, as feed knows no drawing. */
type AtFrame = (job: () => void) => void;

export class Feed {
  private socket: WebSocket | null = null;
  private tries = 0;
  private timer = 0;
  private cycles = 0; // drawn, where it is not the usual number
  private next: { picture: Picture; received_ms: number } | null = null;

  constructor(
    private readonly store: Store,
    private readonly atFrame: AtFrame,
    private rig: string,
  ) {
    document.addEventListener("visibilitychange", () => {
      if (document.hidden || !this.next) return;
      this.atFrame(this.commit);
    });
  }

  open(): void {
    clearTimeout(this.timer);
    this.socket?.close();
    const url = new URL("live", location.href.split(/[?#]/)[0]);
    url.protocol = location.protocol === "https:" ? "wss:" : "ws:";
    if (this.rig) url.searchParams.set("rig", this.rig);
    const [socket, asked] = [new WebSocket(url), this.rig];
    socket.onopen = () => {
      if (socket !== this.socket) return;
      if (this.cycles) this.send({ cycles: this.cycles });
      if (this.rig !== asked) this.send({ rig: this.rig }); // chosen while it was being opened
    };
    socket.binaryType = "arraybuffer";
    socket.onmessage = (event) => this.receive(socket, event.data as ArrayBuffer);
    socket.onclose = (event) => this.closed(socket, `socket closed, code ${event.code} ${event.reason}`.trim());
    this.socket = socket;
  }

  select(rig: string): void {
    this.rig = rig;
    this.send({ rig });
    const url = new URL(location.href);
    if (rig) url.searchParams.set("rig", rig);
    else url.searchParams.delete("rig"); // whichever the service shows
    history.replaceState(null, "", url);
  }

  /** Draw so many cycles from now on. */
  zoom(cycles: number): void {
    this.cycles = cycles;
    this.send({ cycles });
  }

  private receive(socket: WebSocket, message: ArrayBuffer): void {
    if (socket !== this.socket) return;
    this.tries = 0;
    if (this.store.link.peek().state !== "open") this.link({ state: "open", lost_utc_s: null, retry_ms: null, what: "" });
    try {
      const content = unpack(message);
      if (content.kind === "hello") this.greet(content);
      else if (content.kind === "asked") this.store.asked.value = { questions: content.questions, at_ms: performance.now() };
      else this.take(content);
    } catch (error) {
      this.closed(socket, error instanceof Error ? error.message : String(error));
      socket.close();
    }
  }

  /** What was asked before is asked again where it still waits. */
  private greet(hello: Hello): void {
    this.store.hello.value = hello;
    this.store.asked.value = { questions: [], at_ms: performance.now() };
  }

  private take(picture: Picture): void {
    this.next = { picture: withStrip(picture, this.next?.picture), received_ms: performance.now() };
    if (document.hidden) this.send({ drawn: picture.number });
    else this.atFrame(this.commit);
  }

  private readonly commit = (): void => {
    if (!this.next) return;
    const { picture, received_ms } = this.next;
    this.next = null;
    this.store.commit(picture, received_ms, performance.now());
    afterPaint(() => this.send({ drawn: picture.number }));
  };

  private closed(socket: WebSocket, what: string): void {
    if (socket !== this.socket) return;
    this.socket = null;
    const before = this.store.link.peek();
    const wait = RETRY_MS[Math.min(this.tries++, RETRY_MS.length - 1)] ?? 0;
    const lost = before.state === "open" ? this.serviceClock() : before.lost_utc_s;
    this.link({ state: "closed", lost_utc_s: lost, retry_ms: performance.now() + wait, what });
    this.timer = window.setTimeout(() => this.open(), wait);
  }

  /** The service's clock now, as far as the last picture tells. */
  private serviceClock(): number {
    const live = this.store.live.peek();
    if (!live) return Date.now() / 1000;
    return live.now_utc_s + (performance.now() - this.store.received_ms.peek()) / 1000;
  }

  private link(link: Link): void {
    this.store.setLink(link, performance.now());
  }

  private send(message: object): void {
    if (this.socket?.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify(message));
  }
}

/** The newest picture with the strip of one that nobody has drawn: the service sends each strip once. */
export function withStrip(newest: Picture, undrawn: Picture | undefined): Picture {
  return newest.strip || undrawn?.rig !== newest.rig ? newest : { ...newest, strip: undrawn.strip };
}

/** A message to oneself is delivered after the frame that is being made has been painted. */
function afterPaint(then: () => void): void {
  const { port1, port2 } = new MessageChannel();
  port1.onmessage = () => {
    port1.close();
    then();
  };
  port2.postMessage(null);
}
