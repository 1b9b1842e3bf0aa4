"""Makes the printed parts' STL files under shapes/ from boxes and bores; the same bytes each time.

Each shape stands in the coordinates its part has in parts/15-motion.toml, in millimetres, and the holes
declared there are the holes cut here. Run: python make_shapes.py
"""

from __future__ import annotations

import math
import struct
from pathlib import Path

import numpy as np
from manifold3d import Manifold

SIDES = 12  # facets of every bore
SAME_AREA = math.sqrt(2 * math.pi / SIDES / math.sin(2 * math.pi / SIDES))  # polygon's to its circle's radius
PAST_MM = 0.01  # a cut begins this far outside the surface, so that no film is left

Point = tuple[float, float, float]


def box(low: Point, high: Point) -> Manifold:
    """A box from its lowest to its highest corner."""
    size = [b - a for a, b in zip(low, high, strict=True)]
    return Manifold.cube(size).translate(list(low))


def bore(mouth: Point, into: str, diameter_mm: float, depth_mm: float) -> Manifold:
    """A cut whose mouth is a point on the surface and that runs `into` "+x" … "-z"."""
    cut = Manifold.cylinder(depth_mm + 2 * PAST_MM, diameter_mm / 2 * SAME_AREA, circular_segments=SIDES)
    cut = cut.translate([0.0, 0.0, -PAST_MM])
    turns = {
        "+z": (0, 0, 0),
        "-z": (180, 0, 0),
        "+x": (0, 90, 0),
        "-x": (0, -90, 0),
        "-y": (90, 0, 0),
        "+y": (-90, 0, 0),
    }
    return cut.rotate(list(turns[into])).translate(list(mouth))


def sunk(mouth: Point, into: str, diameter_mm: float, depth_mm: float, head: tuple[float, float]) -> Manifold:
    """A hole with a counterbore at its mouth: `head` is its diameter and depth."""
    return bore(mouth, into, diameter_mm, depth_mm) + bore(mouth, into, *head)


def nut_carrier() -> Manifold:
    """A cradle for one slide-in nut: lies in the slot under the lip, z = 0 the lip's underside."""
    body = box((-8.5, -2.9, -4.3), (8.5, 2.9, -3.85))
    for side in (-1, 1):
        low, high = sorted([side * 5.7, side * 8.5])
        body += box((low, -2.9, -4.3), (high, 2.9, -0.1))
        body += box((low, -4.9, -2.1), (high, 4.9, -0.1))
    return body - bore((0, 0, -3.85), "-z", 4.0, 0.45)


def rail_stop() -> Manifold:
    """A block on the slot at a rail's end; its nose reaches 4 mm over the rail, towards +x."""
    body = box((-5.5, -9, 0), (5.5, 9, 9.5)) + box((5.4, -9, 6.4), (10.5, 9, 9.5))
    return body - sunk((0, 0, 9.5), "-z", 3.4, 9.5, (6.5, 4.5))


def front_bracket() -> Manifold:
    """The left bracket of a front idler: lies on the carry beam, a rib hangs beside it."""
    body = box((0, 0, 0), (80, 30, 5)) + box((20.3, 0, -7), (80, 30, 5))
    for y in (7, 23):
        body -= bore((10, y, 5), "-z", 5.5, 5)
    return body - bore((70, 18, 5), "-z", 5.5, 12)


def carriage() -> Manifold:
    """Front plate on the X block, a bridge over the X beam, and the platform of the belt clamps."""
    body = box((-22, -9, -22), (22, 0, 17))
    body += box((-22, -9, 11), (22, 32, 17)) + box((-22, 31, 3), (22, 54, 17))
    for x in (-5.0, 5.0):
        for z in (-7.5, 7.5):
            body -= sunk((x, -9, z), "+y", 3.4, 9, (8, 4))
    for x in (-17, 17):
        for z in (-18, 13):
            body -= bore((x, -9, z), "+y", 4.0, 9 if z < 0 else 8)
    for x in (-18.0, -11.5, 11.5, 18.0):
        body -= bore((x, 42, 17), "-z", 4.0, 8)
    for x in (-8, 8):
        body -= bore((x, 10, 17), "-z", 4.0, 6)
    return body


def belt_clamp() -> Manifold:
    """Two pockets for belt ends, one low in front, one high at the back; the belts enter at x = 0."""
    body = box((0, -12, 0), (14, 12, 22))
    for y, z in ((-6.371, 5), (6.371, 15)):
        body -= box((-PAST_MM, y - 1.1, z - 3.5), (14 + PAST_MM, y + 1.1, z + 3.5))
    for x in (4.0, 10.5):
        body -= sunk((x, 0, 22), "-z", 3.4, 22, (6.5, 10))
    return body


def tool_mount() -> Manifold:
    """The plate between carriage and heat sink, with a wing for the blower and its duct."""
    body = box((-22, -11, -22), (22, 0, 17)) + box((-50, -7, -34), (-21, 0, 24))
    for x in (-17, 17):
        for z in (-18, 13):
            body -= sunk((x, -11, z), "+y", 3.4, 11, (6.5, 5))
    for x in (-10, 10):
        for z in (-14, 4):
            body -= sunk((x, 0, z), "-y", 3.4, 11, (6.5, 7))
    for x, z in ((-44, 18), (-28, -14)):
        body -= bore((x, -7, z), "+y", 3.4, 7)
    for z in (-22, -29):
        body -= bore((-46.5, -7, z), "+y", 4.0, 7)
    return body


def fan_duct() -> Manifold:
    """Leads the blower's air from above to the nozzle; a tab holds it on the tool mount's wing."""
    body = box((-43, -25, -32), (-22.5, -7.2, -18)) + box((-50, -11, -32), (-42.9, -7, -18))
    body += box((-23, -25, -32), (-14, -11.5, -22.5))
    body -= box((-41.5, -23.5, -30.5), (-26, -10.5, -18 + PAST_MM))
    body -= box((-26.1, -23.5, -30.5), (-14 + PAST_MM, -13, -24))
    for z in (-22, -29):
        body -= bore((-46.5, -11, z), "+y", 3.4, 4)
    return body


def cable_anchor() -> Manifold:
    """An angle on the bridge to which cables are tied before they reach a terminal."""
    body = box((-14, 0, 0), (14, 16, 4)) + box((-14, 0, 0), (14, 4, 30))
    for x in (-8, 8):
        body -= bore((x, 10, 4), "-z", 3.4, 4)
    for z in (12, 22):
        for x in (-9, -3, 3, 9):
            body -= box((x - 1, -PAST_MM, z - 2), (x + 1, 4 + PAST_MM, z + 2))
    return body


def foot() -> Manifold:
    """A foot under the base frame; z = 0 touches the beam, z = 30 the table."""
    body = box((-20, -10, 0), (20, 10, 30))
    for x in (-10, 10):
        body -= sunk((x, 0, 30), "-z", 5.5, 30, (11, 25))
    return body


def rail_guide() -> Manifold:
    """A jig that keeps a 9 mm rail in the middle of a 20 mm beam; the key goes in from above."""
    body = box((-15, -13, -8), (15, 13, 10))
    body -= box((-15 - PAST_MM, -10.05, -8 - PAST_MM), (15 + PAST_MM, 10.05, 0))
    body -= box((-15 - PAST_MM, -4.55, -1), (15 + PAST_MM, 4.55, 6.5))
    return body - bore((0, 0, 10), "-z", 7, 3.5)


SHAPES = {
    "nut-carrier": nut_carrier(),
    "rail-stop": rail_stop(),
    "front-bracket-left": front_bracket(),
    "front-bracket-right": front_bracket().mirror([1, 0, 0]),
    "carriage": carriage(),
    "belt-clamp": belt_clamp(),
    "tool-mount": tool_mount(),
    "fan-duct": fan_duct(),
    "cable-anchor": cable_anchor(),
    "foot": foot(),
    "rail-guide": rail_guide(),
}


def stl_bytes(body: Manifold, name: str) -> bytes:
    """A binary STL, its triangles sorted so that equal shapes give equal bytes."""
    mesh = body.to_mesh()
    corners = np.asarray(mesh.vert_properties, dtype=np.float32)[:, :3] + np.float32(0.0)
    triangles = corners[np.asarray(mesh.tri_verts)]
    rows = []
    for triangle in triangles:
        first = min(range(3), key=lambda i: tuple(triangle[i]))
        turned = np.roll(triangle, -first, axis=0)
        normal = np.cross(turned[1] - turned[0], turned[2] - turned[0]).astype(np.float64)
        length = float(np.linalg.norm(normal))
        normal = normal / length if length > 0 else normal
        rows.append(struct.pack("<12fH", *(normal + 0.0), *turned.ravel(), 0))
    head = f"Larch {name}, millimetres".encode().ljust(80, b" ")
    return head + struct.pack("<I", len(rows)) + b"".join(sorted(rows))


def main() -> None:
    """Writes every shape beside this file."""
    folder = Path(__file__).parent / "shapes"
    folder.mkdir(exist_ok=True)
    for name, body in SHAPES.items():
        (folder / f"{name}.stl").write_bytes(stl_bytes(body, name))


if __name__ == "__main__":
    main()
