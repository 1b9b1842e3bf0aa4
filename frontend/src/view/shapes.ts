/**
 * Reading a machine's meshes and what a step shows of them; the layout stands in `bench/solids.py`.
 * Coordinates stay whole numbers of 0 to 65535 as they came: the graphics card scales them.
 */

export interface Shape {
  low: [number, number, number];
  size: number;
  positions: Uint16Array;
  corners: Uint16Array | Uint32Array;
}

export interface Piece {
  id: string;
  shape: number;
  letter: string;
  name: string;
  part: string;
  /** 12 numbers: the rows of a 3 × 4 matrix. */
  matrix: number[];
}

export interface Machine {
  shapes: Shape[];
  pieces: Piece[];
}

type Point = [number, number, number];

export interface StepShown {
  meshes: string;
  new: number[];
  old: number[];
  low: Point;
  high: Point;
  view?: Point;
  ways: { piece: number; away: Point; path: Point[] }[];
  keys: { at: Point; axis: Point; key_mm: number; says: string }[];
  slots: { from: Point; to: Point; says: string }[];
  /** Rows of the matrix that lays the work as it lies in this step. */
  turn?: number[];
}

interface Header {
  shapes: { low: Point; size: number; points: number; positions: number; triangles: number; corners: number; wide: boolean }[];
  pieces: Piece[];
}

/** Throws when it is no such file. */
export function readMachine(bytes: ArrayBuffer): Machine {
  const look = new DataView(bytes);
  if (bytes.byteLength < 8 || look.getUint32(0, true) !== 0x31515354) throw new Error("The shapes came damaged.");
  const length = look.getUint32(4, true);
  const header = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 8, length))) as Header;
  const begin = 8 + length;
  const shapes = header.shapes.map((row): Shape => {
    const corners = row.wide
      ? new Uint32Array(bytes, begin + row.corners, row.triangles * 3)
      : new Uint16Array(bytes, begin + row.corners, row.triangles * 3);
    return { low: row.low, size: row.size, positions: new Uint16Array(bytes, begin + row.positions, row.points * 3), corners };
  });
  return { shapes, pieces: header.pieces };
}

const SHARPEST_COSINE = Math.cos((24 * Math.PI) / 180);

/**
 * The edges worth a line: where faces meet at more than 24°, or where a face has no neighbour. Pairs of point numbers.
 * Points that lie on each other count as one.
 */
export function edgesOf(shape: Shape): Uint32Array {
  const { positions, corners } = shape;
  const count = positions.length / 3;
  const same = new Map<number, number>();
  const merged = new Uint32Array(count);
  for (let n = 0; n < count; n++) {
    const key = positions[3 * n]! + positions[3 * n + 1]! * 65536 + positions[3 * n + 2]! * 4294967296;
    const first = same.get(key);
    if (first === undefined) same.set(key, n);
    merged[n] = first ?? n;
  }
  const faces = corners.length / 3;
  const normals = new Float64Array(corners.length);
  for (let face = 0; face < faces; face++) {
    const [a, b, c] = [corners[3 * face]! * 3, corners[3 * face + 1]! * 3, corners[3 * face + 2]! * 3];
    const ux = positions[b]! - positions[a]!, uy = positions[b + 1]! - positions[a + 1]!, uz = positions[b + 2]! - positions[a + 2]!;
    const vx = positions[c]! - positions[a]!, vy = positions[c + 1]! - positions[a + 1]!, vz = positions[c + 2]! - positions[a + 2]!;
    const x = uy * vz - uz * vy, y = uz * vx - ux * vz, z = ux * vy - uy * vx;
    const size = Math.hypot(x, y, z) || 1;
    normals[3 * face] = x / size;
    normals[3 * face + 1] = y / size;
    normals[3 * face + 2] = z / size;
  }
  // Each edge under its two points; -1 once both its faces have been seen.
  const open = new Map<number, number>();
  const found: number[] = [];
  for (let face = 0; face < faces; face++) {
    for (let side = 0; side < 3; side++) {
      const a = merged[corners[3 * face + side]!]!;
      const b = merged[corners[3 * face + ((side + 1) % 3)]!]!;
      if (a === b) continue;
      const key = a < b ? a * 4194304 + b : b * 4194304 + a;
      const other = open.get(key);
      if (other === undefined) {
        open.set(key, face);
      } else if (other >= 0) {
        const cosine =
          normals[3 * face]! * normals[3 * other]! + normals[3 * face + 1]! * normals[3 * other + 1]! + normals[3 * face + 2]! * normals[3 * other + 2]!;
        if (cosine < SHARPEST_COSINE) found.push(a, b);
        open.set(key, -1);
      }
    }
  }
  for (const [key, face] of open) if (face >= 0) found.push(Math.floor(key / 4194304), key % 4194304);
  return Uint32Array.from(found);
}

/** The edges of many pieces in millimetres of the machine: (2 n, 3) coordinates, two points an edge. */
export function edgesInPlace(machine: Machine, pieces: readonly number[], known: Map<number, Uint32Array>): Float32Array {
  let length = 0;
  for (const number of pieces) {
    const shape = machine.pieces[number]!.shape;
    if (!known.has(shape)) known.set(shape, edgesOf(machine.shapes[shape]!));
    length += known.get(shape)!.length * 3;
  }
  const out = new Float32Array(length);
  let at = 0;
  for (const number of pieces) {
    const piece = machine.pieces[number]!;
    const { low, size, positions } = machine.shapes[piece.shape]!;
    const scale = size / 65535;
    const m = piece.matrix;
    for (const point of known.get(piece.shape)!) {
      const x = low[0] + positions[3 * point]! * scale;
      const y = low[1] + positions[3 * point + 1]! * scale;
      const z = low[2] + positions[3 * point + 2]! * scale;
      out[at++] = m[0]! * x + m[1]! * y + m[2]! * z + m[3]!;
      out[at++] = m[4]! * x + m[5]! * y + m[6]! * z + m[7]!;
      out[at++] = m[8]! * x + m[9]! * y + m[10]! * z + m[11]!;
    }
  }
  return out;
}
