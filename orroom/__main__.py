"""``python -m orroom`` is the same as the console script."""

from orroom.cli import main

if __name__ == "__main__":
    main(prog_name="orroom")
