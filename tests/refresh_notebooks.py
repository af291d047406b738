"""Run every notebook in place and store it as the tests compare it: outputs and counts, no more.

    python tests/refresh_notebooks.py [NAME ...]
"""

import subprocess
import sys
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "notebooks"
KEEP = ("--keep-output", "--keep-count", "--extra-keys", "metadata.language_info cell.metadata.execution")


def main(names):
    paths = sorted(path for path in FOLDER.glob("*.ipynb") if not names or path.stem in names)
    for path in paths:
        subprocess.run([sys.executable, "-m", "nbconvert", "--to", "notebook", "--execute", "--inplace",
                        "--log-level", "WARN", str(path)], check=True)
        subprocess.run([sys.executable, "-m", "nbstripout", *KEEP, str(path)], check=True)
        sys.stdout.write(f"{path.name} refreshed\n")


if __name__ == "__main__":
    main(sys.argv[1:])
