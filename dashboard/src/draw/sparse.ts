/**
 * A pen that leaves out points that lie on a straight line, to a tenth of a pixel: of every point left
 * out the line drawn passes within that. x must not fall. One look at each point, nothing kept but the
 * cone of slopes that is still good for all points since the last one drawn.
 */

const OFF_PX = 0.1;

export class Sparse {
  private fromX = 0;
  private fromY = 0;
  private lastX = NaN; // the newest point, not yet drawn; NaN: none waits
  private lastY = 0;
  private least = -Infinity;
  private most = Infinity;

  constructor(private readonly path: CanvasPath) {}

  moveTo(x: number, y: number): void {
    this.end();
    this.path.moveTo(x, y);
    this.restart(x, y);
  }

  lineTo(x: number, y: number): void {
    const slope = (y - this.fromY) / (x - this.fromX);
    if (!(slope >= this.least && slope <= this.most) && this.lastX === this.lastX) {
      this.path.lineTo(this.lastX, this.lastY);
      this.restart(this.lastX, this.lastY);
    }
    const run = x - this.fromX;
    if (run > 0) {
      this.least = Math.max(this.least, (y - OFF_PX - this.fromY) / run);
      this.most = Math.min(this.most, (y + OFF_PX - this.fromY) / run);
    } else {
      this.most = -Infinity; // straight up: whatever comes next is another direction
    }
    [this.lastX, this.lastY] = [x, y];
  }

  /** Draw what waits. */
  end(): void {
    if (this.lastX === this.lastX) this.path.lineTo(this.lastX, this.lastY);
    this.lastX = NaN;
  }

  private restart(x: number, y: number): void {
    [this.fromX, this.fromY, this.lastX] = [x, y, NaN];
    [this.least, this.most] = [-Infinity, Infinity];
  }
}
