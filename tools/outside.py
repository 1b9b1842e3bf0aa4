"""Every check against the outside, as a table: what, ours, theirs, whose, and how that is known.

    python tools/outside.py                 run the checks, print the table, write docs/evidence.md
    python tools/outside.py --only tests/facts/test_orders_against_ledger.py

The values are those that the tests compared in this very run (`outside_evidence.py`). Ends with 1 when a
check fails, or when a row of the ledger is neither checked nor listed in tests/facts/not_computed.csv with
its reason.
"""

import argparse
import csv
import json
import os
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LEDGER = ROOT / "tests" / "facts" / "ledger"
NOT_COMPUTED = ROOT / "tests" / "facts" / "not_computed.csv"
PAGE = ROOT / "docs" / "evidence.md"
EVIDENCE = ROOT / "build" / "evidence.jsonl"
HOW = {
    "read": "read in the source",
    "derived": "derived from the source",
    "memory": "from memory",
    "practice": "common practice",
}
NUMBER = re.compile(r"(?<![\w.])-?\d+\.\d{7,}(?:e[-+]?\d+)?")


def run(only):
    """Runs the checks; gives pytest's exit status."""
    EVIDENCE.parent.mkdir(exist_ok=True)
    EVIDENCE.unlink(missing_ok=True)
    environment = dict(os.environ, PYTHONPYCACHEPREFIX=str(ROOT / "build" / "evidence-cache"))
    environment["PYTHONPATH"] = os.pathsep.join([str(ROOT / "tools"), environment.get("PYTHONPATH", "")])
    line = [
        sys.executable, "-m", "pytest", "-q", "-n0", "-m", "outside", "-p", "outside_evidence",
        "-o", "enable_assertion_pass_hook=true", "--evidence", str(EVIDENCE), *only,
    ]  # fmt: skip
    return subprocess.run(line, cwd=ROOT, env=environment, check=False).returncode


def ledger():
    """All rows by id, with the file they stand in."""
    found = {}
    for file in sorted(LEDGER.glob("*.csv")):
        with file.open(encoding="utf-8", newline="") as rows:
            found |= {row["id"]: dict(row, file=file.stem) for row in csv.DictReader(rows)}
    return found


def reasons():
    """Why a row is not computed, by its id."""
    found = {}
    with NOT_COMPUTED.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            for name in row["rows"].split():
                found[name] = row["why"]
    return found


def short(text):
    """A number with the digits that matter."""
    text = re.sub(r"np\.\w+\(([^()]*)\)", r"\1", text)
    return NUMBER.sub(lambda found: f"{float(found[0]):.7g}", text)


def cell(text, most=110):
    """A text as a cell of the page's tables."""
    text = short(" ".join(str(text).split())).replace("|", "\\|").replace("<", "&lt;")
    return text if len(text) <= most else f"{text[: most - 1]}…"


def compared(check):
    """Ours and theirs of a check: its first comparison that is not of lengths or names alone."""
    pairs = [pair for pair in check["pairs"] if not pair[3].startswith("len(")]
    best = next((pair for pair in pairs if any(sign.isdigit() for sign in pair[0] + pair[2])), None)
    if best is None:
        return ("agrees", "") if check["outcome"] == "passed" else ("differs", "")
    ours, sign, theirs, _ = best
    return ours, theirs if sign == "==" else f"{sign} {theirs}"


def how_of(check, row):
    """How the other side is known."""
    if row is not None:
        return HOW.get(row["how"], row["how"])
    says = (" ".join(check["sources"]) or check["module"]).casefold()
    if "from memory" in says:
        return "from memory"
    if "common practice" in says:
        return "common practice"
    if re.search(
        r"\b(scipy|numpy|gtc|networkx|opencascade|fcl|trimesh|rtd|embree|pikepdf|bd.warehouse)\b", says
    ):
        return "reference library"
    if re.search(r"\b(iso|iec|din|jcgm|en|astm|nist|w3c|rfc|asme|vdi)\b", says):
        return "standard"
    return "book or derivation"


def lines_of(checks, rows):
    """One line for each check: quantity, ours, theirs, source, how known, row of the ledger."""
    for check in checks:
        known = [rows[name] for name in check["rows"] if name in rows]
        row = known[0] if len(known) == 1 else None
        ours, theirs = compared(check)
        what = row["quantity"] if row is not None else check["says"]
        if row is None and check["with"]:
            what = f"{what} ({check['with']})"
        source = row["source"] if row is not None else "; ".join(check["sources"]) or check["module"]
        yield (what, ours, theirs, source, how_of(check, row), " ".join(check["rows"][:4]))


def page(checks, rows, why):
    """docs/evidence.md."""
    lines = list(lines_of(checks, rows))
    covered = {name for check in checks for name in check["rows"]} & rows.keys()
    by_how = Counter(line[4] for line in lines)
    holding = sum(check["outcome"] == "passed" for check in checks)
    skipped = sum(check["outcome"] == "skipped" for check in checks)
    out = [
        "# Evidence: our answers against the outside",
        "",
        "Written by `make outside`; the values are those that the checks compared in that run. “Theirs” has",
        "the tolerance that the source's own digits imply.",
        "",
        f"{len(lines)} checks: {holding} hold, {skipped} could not run here.",
        f"{len(covered)} of {len(rows)} rows of the ledger are checked; the others stand below, with why.",
        "",
        "| how the other side is known | checks |",
        "|---|---|",
        *(f"| {how} | {count} |" for how, count in sorted(by_how.items())),
    ]
    for module in sorted({check["test"].partition("::")[0] for check in checks}):
        of_it = [check["test"].partition("::")[0] == module for check in checks]
        mine = [line for line, here in zip(lines, of_it, strict=True) if here]
        says = checks[of_it.index(True)]["module"]
        out += ["", f"## {cell(says.rstrip('.'), 160)}", "", f"`{module}`", ""]
        out += ["| quantity | ours | theirs | source | how known | row |", "|---|---|---|---|---|---|"]
        out += [f"| {' | '.join(cell(part) for part in line)} |" for line in mine]
    left = [(name, row, why[name]) for name, row in rows.items() if name not in covered and name in why]
    out += ["", "## Rows that the product does not compute", "", "| row | quantity | why |", "|---|---|---|"]
    out += [f"| {name} | {cell(row['quantity'])} | {cell(reason, 200)} |" for name, row, reason in left]
    return "\n".join(out) + "\n"


def main():
    """Runs, prints, writes."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--only", nargs="*", default=[], help="these tests alone; the page is then not written"
    )
    only = parser.parse_args().only
    status = run(only)
    checks = (
        [json.loads(row) for row in EVIDENCE.read_text("utf-8").splitlines()] if EVIDENCE.is_file() else []
    )
    rows, why = ledger(), reasons()
    print(f"\n{'quantity':60} {'ours':>22} {'theirs':>30}  {'how known':24} source")
    for what, ours, theirs, source, how, names in lines_of(checks, rows):
        said = f"{cell(what, 60):60} {cell(ours, 22):>22} {cell(theirs, 30):>30}  {how:24}"
        print(f"{said} {cell(source, 60)} {names}")
    covered = {name for check in checks for name in check["rows"]}
    print(f"\n{len(checks)} checks; {len(covered & rows.keys())} of {len(rows)} rows of the ledger")
    if only:
        return status
    missing = [name for name in rows if name not in covered and name not in why]
    if missing:
        print(f"Neither checked nor listed in {NOT_COMPUTED.relative_to(ROOT)}: {' '.join(missing)}")
    both = sorted(covered & why.keys())
    if both:
        print(f"Checked, and listed all the same: {' '.join(both)}")
    PAGE.write_text(page(checks, rows, why), "utf-8")
    return status or bool(missing or both)


if __name__ == "__main__":
    sys.exit(main())
