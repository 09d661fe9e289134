"""Print what the audit finds over a whole folder, a line a rule.

Usage: python tests/reference/survey.py FOLDER
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from collections.abc import Iterable
from pathlib import Path

import helpers

LEVELS = ("error", "warning", "note")


def table(runs: Iterable[helpers.Run]) -> str:
    """Findings by rule and level, in how many files, and how often the rule could not be judged."""
    levels: Counter[tuple[str, str]] = Counter()
    unjudged: Counter[str] = Counter()
    files: defaultdict[str, set[str]] = defaultdict(set)
    count = 0
    for run in runs:
        for entry in run.report["files"]:
            count += 1
            for finding in entry["findings"]:
                levels[finding["rule"], finding["level"]] += 1
                files[finding["rule"]].add(entry["path"])
            unjudged.update({item["rule"] for item in entry["not_judged"]})
    rules = sorted(set(files) | set(unjudged))
    width = max([len(rule) for rule in rules], default=4)
    lines = [f"{'rule':<{width}}  {'error':>6}  {'warn':>6}  {'note':>6}  {'files':>6}  {'unjudged':>8}"]
    for rule in rules:
        counts = "  ".join(f"{levels[rule, level]:>6}" for level in LEVELS)
        lines.append(f"{rule:<{width}}  {counts}  {len(files[rule]):>6}  {unjudged[rule]:>8}")
    lines.append(f"{count} files")
    return "\n".join(lines)


def main() -> int:
    """Audit every score under the folder named on the command line."""
    if len(sys.argv) != 2 or not Path(sys.argv[1]).is_dir():
        print(__doc__, file=sys.stderr)
        return 2
    folder = Path(sys.argv[1])
    paths = helpers.score_files(folder)
    if not paths:
        print(f"no score files under {folder}", file=sys.stderr)
        return 2
    print(table(helpers.run_all("audit", paths, folder)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
