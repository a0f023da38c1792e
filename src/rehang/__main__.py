"""The command, as ``python -m rehang``."""

from rehang.cli.main import main

if __name__ == "__main__":
    main()
