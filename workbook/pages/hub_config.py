"""A JupyterHub that opens the pages, for clubs that need more than one machine, or names and passwords.

Run: jupyterhub --config workbook/pages/hub_config.py, after `pip install 'workbook[hub]'` for everybody, and with the
hub's own proxy (configurable-http-proxy for Node.js, or another that its documentation names).
Each learner has a server of their own, pages and JupyterLab, in their own account; the hub starts it and keeps
learners apart. How people log in (`authenticator_class`) and where servers run (`spawner_class`) is set by
the person who runs the hub; these settings make the pages open.
"""

from __future__ import annotations

import sys

from traitlets.config import Config

from workbook.data.notebooks import START_PAGE
from workbook.opening import PAGES

c = globals().get("c", Config())  # JupyterHub gives it to this file
c.Spawner.cmd = [sys.executable, "-P", "-m", "workbook.pages.hub_server"]
c.Spawner.default_url = f"{PAGES}/{START_PAGE}"
c.Spawner.mem_limit = "1G"  # kept by spawners that can, such as those of containers
