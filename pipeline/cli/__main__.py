"""Let `python -m pipeline.cli` do what `cinderlot` does."""

from pipeline.cli import main

if __name__ == "__main__":
    main()
