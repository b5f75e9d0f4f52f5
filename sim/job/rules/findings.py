"""What a rule finds: where, which value, and what would be right."""

from __future__ import annotations

from typing import Any

from sim.job.reading.toml_lines import Path

# None for a value that is not worth showing.
Finding = tuple[Path, Any, str]


def clock_text(minute: int) -> str:
    """Minutes after midnight as a clock shows them."""
    return f"{minute // 60:02d}:{minute % 60:02d}"
