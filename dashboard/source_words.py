"""What must be said of data by where it comes from."""

from collections.abc import Mapping

WHAT_IT_IS: Mapping[str, str] = {
    "virtual": "Virtual bench: invented data",
    "replay": "Replay of a recording: not measured now",
    "file": "From a file: not measured now",
    "port": "",
}
"""What must stand beside data of each kind of source."""
