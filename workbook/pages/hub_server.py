"""A learner's own server below a JupyterHub: the notebooks laid out in their home folder, then pages and JupyterLab."""

from __future__ import annotations

import sys
from pathlib import Path

from workbook.opening import DEFAULT_FOLDER, SETTINGS, laid_out, serve

IDLE_S = 3600
"""A server that nobody has used for so long ends itself; the hub starts it again when its learner comes."""


def main() -> None:
    """Run it, as the hub asks through the environment."""
    folder = laid_out(Path.home() / DEFAULT_FOLDER)
    sys.argv[1:] = [
        *sys.argv[1:],
        f"--config={SETTINGS}",
        f"--ServerApp.root_dir={folder}",
        f"--ServerApp.shutdown_no_activity_timeout={IDLE_S}",
        "--LanguageServerManager.autodetect=False",
    ]

    def launch() -> None:
        from jupyterhub.singleuser import main as serve_one

        serve_one()

    serve(launch)


if __name__ == "__main__":
    main()
