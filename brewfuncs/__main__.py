"""`python -m brewfuncs` is the command `brewfuncs`."""

from brewfuncs.cli import main

if __name__ == "__main__":
    main()
