/** Turning about the work, by finger, mouse, wheel and keys; z stays up. */

import { OrthographicCamera, Vector3 } from "three";

const STEP_RAD = Math.PI / 16;
const NEAREST = 0.03;
const FARTHEST = 4;

export class Orbit {
  aspect = 1;
  /** Whether the last press turned something: then it was no touch of a part. */
  moved = false;
  private turn = 0;
  private tilt = 0;
  private zoom = 1;
  private readonly aim: Vector3;
  private readonly fingers = new Map<number, { x: number; y: number }>();
  private readonly ends: (() => void)[] = [];
  private readonly first: { turn: number; tilt: number };

  constructor(
    private readonly camera: OrthographicCamera,
    private readonly canvas: HTMLCanvasElement,
    private readonly ball: { centre: Vector3; radius: number },
    way: Vector3,
    private readonly changed: () => void,
  ) {
    // `way` looks from the eye to the work; turn and tilt say where the eye stands.
    const eye = way.clone().normalize().negate();
    this.first = { turn: Math.atan2(eye.y, eye.x), tilt: Math.asin(Math.max(-1, Math.min(1, eye.z))) };
    this.aim = ball.centre.clone();
    camera.up.set(0, 0, 1);
    this.listen("pointerdown", (event) => this.down(event as PointerEvent));
    this.listen("pointermove", (event) => this.move(event as PointerEvent));
    for (const name of ["pointerup", "pointercancel"]) this.listen(name, (event) => this.fingers.delete((event as PointerEvent).pointerId));
    this.listen("wheel", (event) => {
      event.preventDefault();
      this.zoomBy(Math.exp(-(event as WheelEvent).deltaY * 0.0015));
    });
    this.listen("keydown", (event) => this.key(event as KeyboardEvent));
    this.home();
  }

  /** As the picture looks. */
  home(): void {
    this.turn = this.first.turn;
    this.tilt = this.first.tilt;
    this.zoom = 1;
    this.aim.copy(this.ball.centre);
    this.place();
  }

  end(): void {
    for (const end of this.ends) end();
  }

  /** Sets the camera. */
  place(): void {
    const { radius } = this.ball;
    const half = (radius * 1.04) / this.zoom;
    const wide = this.aspect >= 1;
    this.camera.left = -half * (wide ? this.aspect : 1);
    this.camera.right = -this.camera.left;
    this.camera.top = half / (wide ? 1 : this.aspect);
    this.camera.bottom = -this.camera.top;
    const far = radius * 6;
    this.camera.near = 0;
    this.camera.far = far * 2;
    const flat = Math.cos(this.tilt);
    this.camera.position.set(
      this.aim.x + far * flat * Math.cos(this.turn),
      this.aim.y + far * flat * Math.sin(this.turn),
      this.aim.z + far * Math.sin(this.tilt),
    );
    this.camera.lookAt(this.aim);
    this.camera.updateProjectionMatrix();
    this.changed();
  }

  private listen(name: string, act: (event: Event) => void): void {
    this.canvas.addEventListener(name, act, { passive: false });
    this.ends.push(() => this.canvas.removeEventListener(name, act));
  }

  private down(event: PointerEvent): void {
    this.canvas.setPointerCapture(event.pointerId);
    if (!this.fingers.size) this.moved = false;
    this.fingers.set(event.pointerId, { x: event.clientX, y: event.clientY });
  }

  private move(event: PointerEvent): void {
    const before = this.fingers.get(event.pointerId);
    if (!before) return;
    const now = { x: event.clientX, y: event.clientY };
    const [dx, dy] = [now.x - before.x, now.y - before.y];
    if (dx || dy) this.moved = true;
    if (this.fingers.size === 2) {
      const other = [...this.fingers].find(([id]) => id !== event.pointerId)![1];
      const was = Math.hypot(before.x - other.x, before.y - other.y);
      const is = Math.hypot(now.x - other.x, now.y - other.y);
      this.shift(dx / 2, dy / 2);
      if (was > 0) this.zoomBy(is / was);
    } else if (event.shiftKey || event.buttons & 6) {
      this.shift(dx, dy);
    } else {
      this.turnBy((-dx / this.canvas.clientWidth) * Math.PI * 1.5, (dy / this.canvas.clientHeight) * Math.PI);
    }
    this.fingers.set(event.pointerId, now);
  }

  private turnBy(turn: number, tilt: number): void {
    this.turn += turn;
    this.tilt = Math.max(-1.55, Math.min(1.55, this.tilt + tilt));
    this.place();
  }

  private zoomBy(share: number): void {
    this.zoom = Math.max(1 / FARTHEST, Math.min(1 / NEAREST, this.zoom * share));
    this.place();
  }

  private shift(dx: number, dy: number): void {
    const mm = (this.camera.right - this.camera.left) / this.canvas.clientWidth;
    const right = new Vector3().setFromMatrixColumn(this.camera.matrix, 0);
    const up = new Vector3().setFromMatrixColumn(this.camera.matrix, 1);
    this.aim.addScaledVector(right, -dx * mm).addScaledVector(up, dy * mm);
    this.place();
  }

  private key(event: KeyboardEvent): void {
    const acts: Record<string, () => void> = {
      ArrowLeft: () => this.turnBy(STEP_RAD, 0),
      ArrowRight: () => this.turnBy(-STEP_RAD, 0),
      ArrowUp: () => this.turnBy(0, STEP_RAD),
      ArrowDown: () => this.turnBy(0, -STEP_RAD),
      "+": () => this.zoomBy(1.25),
      "=": () => this.zoomBy(1.25),
      "-": () => this.zoomBy(0.8),
      "0": () => this.home(),
      Escape: () => this.canvas.blur(),
    };
    const act = acts[event.key];
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    act();
  }
}
