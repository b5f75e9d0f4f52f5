"""Pack the chart library for the page: `python pack.py plotly-basic.min.js`.

The packed file lies beside this one. It is what a browser's DecompressionStream reads as
"deflate" (RFC 1950), as small as zlib makes it.
"""

from __future__ import annotations

import sys
import zlib
from pathlib import Path

PACKED = Path(__file__).parent / "plotly-basic.min.js.zlib"


def main() -> None:
    """Pack the file named on the command line."""
    script = Path(sys.argv[1]).read_bytes()
    # A plain script of ASCII is kept by browsers at one byte a letter.
    text = "".join(c if c.isascii() else f"\\u{ord(c):04x}" for c in script.decode("utf-8"))
    PACKED.write_bytes(zlib.compress(text.encode("ascii"), 9))


if __name__ == "__main__":
    main()
