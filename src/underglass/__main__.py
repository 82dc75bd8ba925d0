"""`python -m underglass`: the same as the command."""

from underglass.faces.cli.main import main

if __name__ == "__main__":
    main()
