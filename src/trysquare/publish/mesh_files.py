"""A closed mesh as the bytes of an STL or 3MF file, the same bytes for the same mesh."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from xml.sax.saxutils import quoteattr

import numpy as np
from manifold3d import Manifold

_NO_TIME = (1980, 1, 1, 0, 0, 0)  # the earliest that a zip file can say: the clock must not change the bytes
_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/>'
    "</Types>"
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)


def stl_bytes(body: Manifold, title: str) -> bytes:
    """Binary STL in millimetres: 80 bytes of title, the count, and 50 bytes for each triangle."""
    mesh = body.to_mesh()
    points = np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3]
    corners = points[np.asarray(mesh.tri_verts)]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-300)
    rows = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("more", "<u2")])
    rows["normal"], rows["corners"] = normals, corners
    head = title.encode("ascii", "replace")[:80].ljust(80)
    return head + len(rows).to_bytes(4, "little") + rows.tobytes()


def threemf_bytes(bodies: Mapping[str, Manifold]) -> bytes:
    """3MF in millimetres with one object for each body, by name, each where its coordinates put it.

    Source: 3MF Core Specification 1.3, chapters 2 to 4 (package, model, objects), from memory.
    """
    objects, items = [], []
    for number, (name, body) in enumerate(bodies.items(), start=1):
        mesh = body.to_mesh()
        points = np.asarray(mesh.vert_properties)[:, :3].tolist()
        triangles = np.asarray(mesh.tri_verts).tolist()
        vertices = "".join(f'<vertex x="{x:.6g}" y="{y:.6g}" z="{z:.6g}"/>' for x, y, z in points)
        faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in triangles)
        objects.append(
            f'<object id="{number}" type="model" name={quoteattr(name)}><mesh><vertices>{vertices}</vertices>'
            f"<triangles>{faces}</triangles></mesh></object>"
        )
        items.append(f'<item objectid="{number}"/>')
    model = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<model unit="millimeter" xml:lang="en" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
        f"<resources>{''.join(objects)}</resources><build>{''.join(items)}</build></model>"
    )
    parts = {"[Content_Types].xml": _TYPES, "_rels/.rels": _RELATIONS, "3D/3dmodel.model": model}
    first = next(iter(bodies), "")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        package.comment = first.encode("ascii", "replace")[:200]  # so that we know our own file again
        for name, text in parts.items():
            package.writestr(
                zipfile.ZipInfo(name, _NO_TIME), text.encode(), compress_type=zipfile.ZIP_DEFLATED
            )
    return out.getvalue()


def threemf_title(data: bytes) -> str:
    """The title that a 3MF of ours carries; "" for any other file."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            return package.comment.decode("ascii", "replace")
    except (zipfile.BadZipFile, OSError, ValueError):
        return ""
