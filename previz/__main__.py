"""`python -m previz` is the same as `previz`."""

from previz.cli.main import main

if __name__ == "__main__":
    main()
