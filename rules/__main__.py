"""Entry of `python -m rules`."""

from rules.command_line import main

if __name__ == "__main__":
    raise SystemExit(main())
