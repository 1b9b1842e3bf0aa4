"""Reading CAD files beside OpenCascade alone: the same file, each run in a process of its own, turn by turn.

python -m benchmarks.intake             500 pieces of the demo's printer, nested and flat
python -m benchmarks.intake --repeats 7

OpenCascade alone reads the file with its names and colours and draws all solids within the same deflections.
Ours reads, compares all solids, measures all faces and draws each different solid once. Seconds are those of
the processor; libraries' start is in both. "Flat" has every piece as a solid of its own, as many export it.
"Whole command" is `trysquare import` with both its processes: it also recognises, joins, writes the folder
and loads it again.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from benchmarks.figures import heading, row

ROOT = Path(__file__).resolve().parent.parent
LARCH = ROOT / "demo" / "larch"
PIECES = 500
WHOLE = 100_000  # more pieces than the printer has

ALONE = """
import sys
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.Message import Message
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDocStd import TDocStd_Document
from OCP.XCAFDoc import XCAFDoc_DocumentTool
from OCP.collections import Sequence_TDF_Label
Message.DefaultMessenger_s().ChangePrinters().Clear()
document = TDocStd_Document(TCollection_ExtendedString("BinXCAF"))
reader = STEPCAFControl_Reader()
reader.SetNameMode(True)
reader.SetColorMode(True)
reader.ReadFile(sys.argv[1])
reader.Transfer(document)
tool, labels = XCAFDoc_DocumentTool.ShapeTool_s(document.Main()), Sequence_TDF_Label()
tool.GetFreeShapes(labels)
for label in labels:
    BRepMesh_IncrementalMesh(tool.GetShape_s(label), 0.05, False, 0.35, False)
"""
OURS = """
import sys
from pathlib import Path
from trysquare.intake.cad_file import read_cad
read_cad(Path(sys.argv[1]))
"""
COMMAND = """
import sys, tempfile
from trysquare.cli.main import main
with tempfile.TemporaryDirectory() as folder:
    sys.stdout = sys.stderr
    sys.argv = ["trysquare", "import", sys.argv[1], folder + "/machine", "--no-questions"]
    main()
"""
RECOGNISED = """
import sys, time, json
from pathlib import Path
from trysquare.intake.cad_file import read_cad
from trysquare.intake.recognise import recognised
assembly = read_cad(Path(sys.argv[1]))
start = time.process_time()
for shape in assembly.shapes:
    recognised(shape)
print(json.dumps([time.process_time() - start, len(assembly.shapes), len(assembly.bodies)]))
"""


def measured(program: str, file: Path, most: int = 0) -> tuple[float, float, str]:
    """Processor seconds (its own processes' too), peak megabytes and output of a program that reads a file.

    `most`: the highest exit status that is no failure.
    """
    process = subprocess.Popen(
        [sys.executable, "-c", program, str(file)],
        env=dict(os.environ, PYTHONPATH=str(ROOT / "src")),
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL if most else None,
    )
    assert process.stdout is not None  # it was asked for
    said = process.stdout.read().decode()
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if not 0 <= process.returncode <= most:
        raise SystemExit(f"a reader ended with {process.returncode}")
    return usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, said


def nested_file(folder: Path, pieces: int = PIECES) -> Path:
    """The first pieces of the printer, by unit, each sort of part once."""
    from trysquare.machine.load import load_machine
    from trysquare.publish.given_tree import given_tree
    from trysquare.publish.step_file import step_bytes

    machine = load_machine(LARCH)
    ids = [piece.id for piece in given_tree(machine).all_pieces()][:pieces]
    path = folder / f"nested-{pieces}.step"
    path.write_bytes(step_bytes(given_tree(machine, set(ids)), machine.folder))
    return path


def flat_file(nested: Path) -> Path:
    """The same, every piece a solid of its own in one part."""
    from OCP.BRep import BRep_Builder
    from OCP.BRepBuilderAPI import BRepBuilderAPI_Transform
    from OCP.gp import gp_Trsf
    from OCP.STEPControl import STEPControl_AsIs, STEPControl_Writer
    from OCP.TopoDS import TopoDS_Compound

    from trysquare.intake.step_tree import leaves_of_file

    builder, compound = BRep_Builder(), TopoDS_Compound()
    builder.MakeCompound(compound)
    for leaf in leaves_of_file(nested)[0]:
        move = gp_Trsf()
        move.SetValues(*[float(value) for line in leaf.placement.matrix() for value in line])
        builder.Add(compound, BRepBuilderAPI_Transform(leaf.solid, move, True).Shape())
    writer = STEPControl_Writer()
    writer.Transfer(compound, STEPControl_AsIs)
    path = nested.with_name("flat.step")
    writer.Write(str(path))
    return path


def compare(what: str, file: Path, repeats: int) -> None:
    """Both readers turn by turn, and the rows of what was measured."""
    alone: list[tuple[float, float, str]] = []
    ours: list[tuple[float, float, str]] = []
    command: list[tuple[float, float, str]] = []
    for _ in range(repeats):
        alone.append(measured(ALONE, file))
        ours.append(measured(OURS, file))
        command.append(measured(COMMAND, file, most=1))  # 1: something is asked
    seconds = [statistics.median(each[0] for each in some) for some in (alone, ours, command)]
    peaks = [max(each[1] for each in some) for some in (alone, ours)]
    size = f"{file.stat().st_size / 1e6:.1f} MB"
    row(f"{what}, {size}: OpenCascade alone", "", f"{seconds[0]:.2f} s, {peaks[0]:.0f} MB", of="9")
    row(
        f"{what}: ours, ratio of seconds",
        "≤ 1.5",
        f"{seconds[1]:.2f} s, {seconds[1] / seconds[0]:.2f}",
        of="9",
    )
    row(
        f"{what}: whole command, ratio of seconds",
        "≤ 1.5",
        f"{seconds[2]:.2f} s, {seconds[2] / seconds[0]:.2f}",
        of="9",
    )
    row(f"{what}: ours, ratio of memory", "≤ 2", f"{peaks[1]:.0f} MB, {peaks[1] / peaks[0]:.2f}", of="9")
    found: list[Any] = json.loads(measured(RECOGNISED, file)[2])
    row(f"{what}: recognising {found[1]} shapes of {found[2]} pieces", "", f"{found[0]:.2f} s", of="9")


def main() -> None:
    """Makes the files and compares."""
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    reader.add_argument("--repeats", type=int, default=5, help="of each reader  [default: 5]")
    repeats = reader.parse_args().repeats
    heading("CAD files in")
    with tempfile.TemporaryDirectory() as folder:
        compare("STEP of the whole printer", nested_file(Path(folder), WHOLE), repeats)
        nested = nested_file(Path(folder))
        compare(f"STEP of {PIECES} pieces, nested", nested, repeats)
        compare(f"STEP of {PIECES} pieces, flat", flat_file(nested), repeats)


if __name__ == "__main__":
    main()
