"""``python -m sim`` is ``nightledger``."""

from sim.cli import run

if __name__ == "__main__":
    run()
