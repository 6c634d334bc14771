"""``python -m carwright``."""

from carwright.cli import main

if __name__ == "__main__":
    main()
