"""Settings of the server that shows the pages, as Jupyter reads them; see `workbook.opening`."""

from __future__ import annotations

import os
import secrets
import warnings
from pathlib import Path
from typing import Any

import voila  # noqa: F401  it has warnings of its parts shown, which are nothing to a learner
from jupyter_core.paths import jupyter_runtime_dir
from traitlets.config import Config

from workbook.pages.contents import Notebooks
from workbook.pages.kernels import WarmKernels
from workbook.pages.page import LARGEST_MESSAGE_BYTES, page_of


def _page(handler: Any, notebook: Any, cwd: str) -> Any:
    handler.xsrf_token  # noqa: B018  asking sets the cookie with which the page may end its kernel
    return page_of(notebook, handler.request.path.rpartition("/")[2])


def _settings(page_config: dict[str, Any], **_: Any) -> dict[str, Any]:
    """The page's own settings, less the one part that would be fetched from another machine."""
    return page_config | {"fullMathjaxUrl": None, "mathjaxConfig": None}


def _own_sockets() -> bool:
    """Whether kernels can be reached by files that only their owner may open: no port that another user of this
    machine could find, and so nothing to encrypt."""
    return os.name == "posix" and len(jupyter_runtime_dir()) < LONGEST_FOLDER


LONGEST_FOLDER = 50
"""Letters of the folder of such files; their whole paths may have about a hundred, as sockets(7) says."""

warnings.filterwarnings("ignore", category=DeprecationWarning, module="traitlets")

c = globals().get("c", Config())  # Jupyter gives it to this file
c.Application.log_level = "WARN"
c.IdentityProvider.token = secrets.token_hex(
    24
)  # one of Jupyter's own would be reported in its own words
c.ServerApp.jpserver_extensions = {"jupyterlab": True, "voila.server_extension": True}
c.ServerApp.contents_manager_class = Notebooks
c.ServerApp.tornado_settings = {"websocket_max_message_size": LARGEST_MESSAGE_BYTES}
c.LabApp.app_settings_dir = str(Path(__file__).with_name("lab_settings"))
c.ServerApp.kernel_manager_class = WarmKernels
c.MappingKernelManager.cull_idle_timeout = 3600  # of a page whose browser ended without a word
c.MappingKernelManager.cull_interval = 300
if _own_sockets():
    c.KernelManager.transport = "ipc"
c.VoilaConfiguration.template = "page"
c.VoilaConfiguration.allow_template_override = (
    "NO"  # neither a notebook nor an address chooses another
)
c.VoilaConfiguration.allow_theme_override = "NO"
c.VoilaConfiguration.prelaunch_hook = _page
c.VoilaConfiguration.page_config_hook = _settings
c.VoilaExecutor.cell_error_instruction = "Open the page as code (above) to see why."
# on a busy machine an output may come later than that the cell is done; a page without its figure would be empty
c.VoilaExecutor.iopub_timeout = 60
