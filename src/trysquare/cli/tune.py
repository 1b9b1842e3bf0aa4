"""`trysquare tune`: the running machine set from measurements, one sub-command for each thing that is set.

A new one is joined so:

1. Write `cli/tune_<what>.py` with a click command called `command`, made with `cls=Taught` as all are.
2. Add its row to `WHAT` below: name, module, and the line that the list shows.

It is loaded only when it is called. `tune_shared.py` has what they share: the options --machine, --paper,
--json, --plot and --log, reading the machine, facts of a measured value, cautions, writing the plot, and
the entry in the build log. `tools/docs.py` and the tests find it by the table.
"""

from __future__ import annotations

import click

from trysquare.cli.teaching import COMMON_EXITS, Group, Taught

WHAT = (
    ("belt", "trysquare.cli.tune_belt", "Know a belt's tension from the sound of a pluck, and what to turn."),
    ("resonance", "trysquare.cli.tune_resonance", "Know how the machine swings, and how to move without it."),
    ("skew", "trysquare.cli.tune_skew", "Know skew and scale from a test piece, and what to do about them."),
    ("surface", "trysquare.cli.tune_surface", "Know which screw of the bed to turn, and by how much."),
    ("drive", "trysquare.cli.tune_drive", "Know what a step moves, what is lost on turning back, how fast."),
    ("heat", "trysquare.cli.tune_heat", "Know how fast it warms, and settings that hold a temperature."),
    ("wiring", "trysquare.cli.tune_wiring", "Know every run's gauge, drop and fuse, and switch on safely."),
    ("homing", "trysquare.cli.tune_homing", "Know how well a switch or probe finds the same place again."),
    ("maintenance", "trysquare.cli.tune_maintenance", "Know what is due: grease, belts, screws."),
)


class _Tune(Taught, Group):
    """A group that teaches as every command does."""

    def collect_usage_pieces(self, ctx: click.Context) -> list[str]:  # noqa: ARG002  # as click calls it
        return ["WHAT …"]


command = _Tune(
    "tune",
    table=WHAT,
    learns="Set belts and motion of the running machine from what you measure.",
    inputs=(
        ("WHAT", "what is to be set, see the commands below; each has its own --help"),
        ("", "a recording or a table; with --machine FOLDER the machine's own figures are used"),
    ),
    examples=(
        "trysquare tune belt demo/larch/recordings/belt-a.flac --machine demo/larch",
        "trysquare tune resonance demo/larch/recordings/x-shake.csv --machine demo/larch",
    ),
    exits=((0, "measured, and as it should be"), (1, "measured; something is to be done"), *COMMON_EXITS),
)
