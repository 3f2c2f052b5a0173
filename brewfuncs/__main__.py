"""`python -m brewfuncs` is the command `brewfuncs`."""

import sys

if __name__ == "__main__":
    try:
        from brewfuncs.cli import main
    except KeyboardInterrupt:
        sys.exit(130)
    main()
