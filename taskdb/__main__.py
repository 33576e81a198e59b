"""`python -m taskdb` is `taskdb`."""

from taskdb.cli.main import run

if __name__ == "__main__":
    run()
