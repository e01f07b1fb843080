"""The kinds of input, in the order in which they are tried."""

from .cached import Cached
from .lamps import Lamps
from .looks import Looks
from .meshes import Meshes
from .options import Options
from .pictures import Pictures
from .requests import Requests
from .scenes import Scenes
from .written import Written

KINDS = {
    kind.name: kind for kind in (Scenes, Written, Options, Meshes, Pictures, Lamps, Looks, Cached, Requests)
}
"""Kind by its name."""
