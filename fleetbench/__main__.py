"""`python -m fleetbench` does what the command `fleetbench` does."""

from fleetbench.cli import main

if __name__ == "__main__":
    main()
