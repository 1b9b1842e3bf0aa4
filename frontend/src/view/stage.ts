/** What stands on the stage: faces drawn once for each shape, edges as lines, keys and slots as marks. */

import {
  BufferAttribute, BufferGeometry, Color, DirectionalLight, DoubleSide, Group, HemisphereLight, InstancedMesh, LineBasicMaterial, LineDashedMaterial,
  LineSegments, Matrix4, MeshLambertMaterial, OrthographicCamera, Raycaster, Scene, Vector2, Vector3, WebGLRenderer, type Object3D,
} from "three";
import { Orbit } from "./orbit";
import { edgesInPlace, type Machine, type StepShown } from "./shapes";

type Role = "old" | "new" | "later";
export type Switch = "ways" | "later" | "glass" | "marks";
const FROM_FRONT_LEFT_ABOVE: [number, number, number] = [1, 1, -0.82];
const KEY_LONG_MM = 42;
const BARB_MM = 9;

export class Stage {
  private readonly renderer: WebGLRenderer;
  private readonly scene = new Scene();
  private readonly camera = new OrthographicCamera();
  private readonly groups: Record<Role, Group> = { old: new Group(), new: new Group(), later: new Group() };
  private readonly marks = new Group();
  private readonly ways = new Group();
  /** All of it, laid as the work lies in this step. */
  private readonly work = new Group();
  private readonly faces: Record<Role, MeshLambertMaterial>;
  private readonly inks: Record<Role, LineBasicMaterial>;
  private readonly slotInk = new LineBasicMaterial({ depthTest: false, linewidth: 2 });
  private readonly wayInk = new LineDashedMaterial({ depthTest: false, dashSize: 3, gapSize: 2 });
  private readonly barbInk = new LineBasicMaterial({ depthTest: false });
  private readonly keyInk = new LineDashedMaterial({ depthTest: false, dashSize: 4, gapSize: 2 });
  private readonly numbers: Record<Role, number[]>;
  private readonly orbit: Orbit;
  private readonly edges = new Map<number, Uint32Array>();
  private readonly shapes = new Map<number, BufferGeometry>();
  private readonly watcher = new ResizeObserver(() => this.fit());
  private readonly recolour = (): void => this.colour();
  private readonly preference = matchMedia("(prefers-color-scheme: dark)");
  private asked = false;
  private count = 0;
  private ended = false;

  constructor(
    private readonly canvas: HTMLCanvasElement,
    private readonly machine: Machine,
    private readonly step: StepShown,
    private readonly drawn: (count: number) => void,
  ) {
    this.renderer = new WebGLRenderer({ canvas, antialias: true, alpha: true, powerPreference: "low-power" });
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    const face = (): MeshLambertMaterial =>
      new MeshLambertMaterial({ flatShading: true, side: DoubleSide, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 });
    this.faces = { old: face(), new: face(), later: face() };
    this.inks = { old: new LineBasicMaterial(), new: new LineBasicMaterial(), later: new LineBasicMaterial() };
    const here = new Set([...step.new, ...step.old]);
    this.numbers = { old: step.old, new: step.new, later: machine.pieces.map((_, number) => number).filter((number) => !here.has(number)) };
    const sky = new HemisphereLight(0xffffff, 0x8d8b84, 2.1);
    sky.position.set(0, 0, 1);
    const sun = new DirectionalLight(0xffffff, 1.25);
    sun.position.set(-0.35, -0.75, 1);
    this.work.add(this.groups.old, this.groups.new, this.groups.later, this.marks, this.ways);
    const t = step.turn;
    if (t?.length === 9) {
      const laid = new Matrix4().set(t[0]!, t[1]!, t[2]!, 0, t[3]!, t[4]!, t[5]!, 0, t[6]!, t[7]!, t[8]!, 0, 0, 0, 0, 1);
      this.work.applyMatrix4(laid);
    }
    this.work.updateMatrixWorld();
    this.scene.add(sky, sun, this.work);
    this.fill("new");
    this.fill("old");
    this.line("new");
    this.way();
    this.marks.visible = this.groups.later.visible = false;
    const low = new Vector3(...step.low);
    const high = new Vector3(...step.high);
    const ball = { centre: low.clone().add(high).multiplyScalar(0.5).applyMatrix4(this.work.matrixWorld), radius: Math.max(high.distanceTo(low) / 2, 5) };
    this.orbit = new Orbit(this.camera, canvas, ball, new Vector3(...(step.view ?? FROM_FRONT_LEFT_ABOVE)), () => this.ask());
    this.colour();
    this.watcher.observe(canvas);
    document.addEventListener("look-changed", this.recolour);
    this.preference.addEventListener("change", this.recolour);
    canvas.addEventListener("click", (event) => this.pick(event));
  }

  /** The faces of these pieces: one call to the card for each shape. */
  private fill(role: Role): void {
    const by = new Map<number, number[]>();
    for (const number of this.numbers[role]) {
      const { shape } = this.machine.pieces[number]!;
      const row = by.get(shape);
      if (row) row.push(number);
      else by.set(shape, [number]);
    }
    const place = new Matrix4();
    for (const [shape, pieces] of by) {
      const { low, size } = this.machine.shapes[shape]!;
      const own = new Matrix4().makeTranslation(...low).scale(new Vector3(size, size, size));
      const made = new InstancedMesh(this.geometry(shape), this.faces[role], pieces.length);
      pieces.forEach((number, at) => {
        const m = this.machine.pieces[number]!.matrix as [number, number, number, number, number, number, number, number, number, number, number, number];
        place.set(...m, 0, 0, 0, 1).multiply(own);
        made.setMatrixAt(at, place);
      });
      made.userData.pieces = pieces;
      this.groups[role].add(made);
    }
  }

  private geometry(shape: number): BufferGeometry {
    const known = this.shapes.get(shape);
    if (known) return known;
    const { positions, corners } = this.machine.shapes[shape]!;
    const made = new BufferGeometry();
    made.setAttribute("position", new BufferAttribute(positions, 3, true));
    made.setIndex(new BufferAttribute(corners, 1));
    this.shapes.set(shape, made);
    return made;
  }

  /** The edges of these pieces, in one piece. */
  private line(role: Role): void {
    const made = new BufferGeometry();
    made.setAttribute("position", new BufferAttribute(edgesInPlace(this.machine, this.numbers[role], this.edges), 3));
    this.groups[role].add(new LineSegments(made, this.inks[role]));
  }

  /** Where keys go and which slots get something. */
  private mark(): void {
    const slots = this.step.slots.flatMap((each) => [...each.from, ...each.to]);
    const keys = this.step.keys.flatMap(({ at, axis }) => [...at, ...at.map((value, n) => value + axis[n]! * KEY_LONG_MM)]);
    for (const [points, ink] of [[slots, this.slotInk], [keys, this.keyInk]] as const) {
      const made = new BufferGeometry();
      made.setAttribute("position", new BufferAttribute(Float32Array.from(points), 3));
      const lines = new LineSegments(made, ink);
      lines.renderOrder = 3;
      if (ink === this.keyInk) lines.computeLineDistances();
      this.marks.add(lines);
    }
  }

  /** The ways in of what comes: dashed from where it is held to where it goes, with a barbed end. */
  private way(): void {
    const dashes: number[] = [];
    const barbs: number[] = [];
    for (const { path } of this.step.ways) {
      path.slice(1).forEach((point, at) => dashes.push(...path[at]!, ...point));
      const tip = path.at(-1);
      const before = path.at(-2);
      if (!tip || !before) continue;
      const end = new Vector3(...tip);
      const along = end.clone().sub(new Vector3(...before));
      const long = Math.min(BARB_MM, along.length() / 3);
      if (long <= 0) continue;
      along.normalize();
      const side = new Vector3(0, 0, 1).cross(along).length() > 0.1 ? new Vector3(0, 0, 1) : new Vector3(1, 0, 0);
      const across = side.cross(along).normalize();
      for (const out of [across, across.clone().negate(), along.clone().cross(across), across.clone().cross(along)]) {
        const from = end.clone().addScaledVector(along, -long).addScaledVector(out, long / 2.5);
        barbs.push(...end.toArray(), ...from.toArray());
      }
    }
    for (const [points, ink] of [[dashes, this.wayInk], [barbs, this.barbInk]] as const) {
      const made = new BufferGeometry();
      made.setAttribute("position", new BufferAttribute(Float32Array.from(points), 3));
      const lines = new LineSegments(made, ink);
      lines.renderOrder = 2;
      if (ink === this.wayInk) lines.computeLineDistances();
      this.ways.add(lines);
    }
  }

  home(): void {
    this.orbit.home();
  }

  /** Switches something on; says in words what there is to see. */
  show(what: Switch): string {
    this.ask();
    if (what === "ways") {
      this.ways.visible = true;
      const many = this.step.ways.filter((each) => each.path.length > 1).length;
      return many ? `${many} way${many === 1 ? "" : "s"} in.` : "Nothing needs a way in here.";
    }
    if (what === "later") {
      if (!this.groups.later.children.length) {
        this.fill("later");
        this.line("later");
      }
      this.groups.later.visible = true;
      return this.numbers.later.length ? `${this.numbers.later.length} pieces come later.` : "Nothing comes later.";
    }
    if (what === "marks") {
      if (!this.marks.children.length) this.mark();
      this.marks.visible = true;
      const { keys, slots } = this.step;
      const of = (count: number, word: string): string => `${count} ${word}${count === 1 ? "" : "s"}`;
      return keys.length || slots.length ? `${of(keys.length, "key line")}, ${of(slots.length, "slot")}.` : "This step turns no key and fills no slot.";
    }
    this.glass(true);
    return "";
  }

  hide(what: Switch): string {
    this.ask();
    if (what === "ways") this.ways.visible = false;
    else if (what === "later") this.groups.later.visible = false;
    else if (what === "marks") this.marks.visible = false;
    else this.glass(false);
    return "";
  }

  private glass(on: boolean): void {
    Object.assign(this.faces.old, { transparent: on, opacity: on ? 0.13 : 1, depthWrite: !on, needsUpdate: true });
    Object.assign(this.inks.old, { transparent: on, opacity: on ? 0.34 : 1, needsUpdate: true });
  }

  /** What was touched, by its name. */
  private pick(event: MouseEvent): void {
    if (this.orbit.moved) return;
    const frame = this.canvas.getBoundingClientRect();
    const at = new Vector2(((event.clientX - frame.left) / frame.width) * 2 - 1, 1 - ((event.clientY - frame.top) / frame.height) * 2);
    const ray = new Raycaster();
    ray.setFromCamera(at, this.camera);
    const groups: Object3D[] = [this.groups.new, this.groups.old].flatMap((group) => group.children.filter((each) => each instanceof InstancedMesh));
    const hit = ray.intersectObjects(groups, false)[0];
    const number = hit?.instanceId === undefined ? undefined : (hit.object.userData.pieces as number[])[hit.instanceId];
    const piece = number === undefined ? undefined : this.machine.pieces[number];
    const words = piece ? [piece.letter, piece.name].filter(Boolean).join(" · ") : "";
    this.canvas.dispatchEvent(new CustomEvent("pick", { detail: words }));
  }

  /** The inks and tints of the page. */
  private colour(): void {
    const style = getComputedStyle(document.documentElement);
    const tone = (name: string): Color => new Color(style.getPropertyValue(name).trim());
    const dark = tone("--paper").getHSL({ h: 0, s: 0, l: 0 }).l < 0.5;
    this.faces.old.color = new Color(dark ? "#4b4e53" : "#efeeea");
    this.faces.new.color = new Color(dark ? "#a67f38" : "#f6e0b2");
    Object.assign(this.faces.later, { color: tone("--steel"), transparent: true, opacity: 0.09, depthWrite: false });
    this.inks.old.color = dark ? new Color("#17181a") : tone("--drawn-thin");
    this.inks.new.color = dark ? new Color("#100c04") : tone("--ink");
    Object.assign(this.inks.later, { color: tone("--steel"), transparent: true, opacity: 0.3 });
    this.slotInk.color = tone("--steel");
    this.keyInk.color = tone("--stop");
    this.wayInk.color = this.barbInk.color = tone("--steel");
    this.ask();
  }

  /** Takes the room that the page gives. */
  fit(): void {
    const { clientWidth: width, clientHeight: height } = this.canvas;
    if (!width || !height || this.ended) return;
    this.renderer.setSize(width, height, false);
    this.orbit.aspect = width / height;
    this.orbit.place();
  }

  /** One picture at the next moment that the browser draws; the thin lines of what is there follow the first. */
  private ask(): void {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      if (this.ended || !this.canvas.isConnected || !this.canvas.clientWidth) return;
      this.renderer.render(this.scene, this.camera);
      this.drawn(++this.count);
      if (this.count === 1) {
        setTimeout(() => {
          if (this.ended) return;
          this.line("old");
          this.ask();
        }, 0);
      }
    });
  }

  /** Gives everything back. */
  end(): void {
    this.ended = true;
    this.watcher.disconnect();
    document.removeEventListener("look-changed", this.recolour);
    this.preference.removeEventListener("change", this.recolour);
    this.orbit.end();
    for (const each of this.shapes.values()) each.dispose();
    this.scene.traverse((each) => {
      if (each instanceof LineSegments) (each.geometry as BufferGeometry).dispose();
      if (each instanceof InstancedMesh) each.dispose();
    });
    this.renderer.dispose();
    this.renderer.forceContextLoss();
  }
}
