"""Prints what the tests cover, room by room, and the modules that they cover least."""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path

files = json.loads(Path(sys.argv[1]).read_text("utf-8"))["files"]
lines: Counter[str] = Counter()
covered: Counter[str] = Counter()
for name, file in files.items():
    parts = Path(name).parts
    for room in (parts[1] if len(parts) > 2 else "(single modules)", "all"):
        lines[room] += file["summary"]["num_statements"]
        covered[room] += file["summary"]["covered_lines"]
for room in sorted(lines, key=lambda name: (name == "all", name)):
    share = 100 * covered[room] / max(lines[room], 1)
    print(f"{room:18} {covered[room]:6d} of {lines[room]:6d} lines  {share:5.1f} %")
least = sorted(files, key=lambda name: files[name]["summary"]["percent_covered"])[:8]
for name in least:
    print(f"  {files[name]['summary']['percent_covered']:5.1f} %  {name}")
