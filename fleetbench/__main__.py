"""`python -m fleetbench` does what the command `fleetbench` does."""

import sys

from fleetbench.cli import main

PICTURES = ["-m", "fleetbench.window.shell.pictures"]
"""How the demonstration has its pictures drawn; a built program, its own interpreter, is asked in the same words."""

if __name__ == "__main__":
    if sys.argv[1:3] == PICTURES:
        from fleetbench.window.shell.pictures import main as draw

        sys.argv[1:3] = []
        raise SystemExit(draw())
    main()
