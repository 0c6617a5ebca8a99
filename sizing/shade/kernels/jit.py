"""How the number kernels are compiled: numba, cached on disk, one thread, no interpreter lock.

The cache folder is NUMBA_CACHE_DIR where that is set, else the folder numba picks beside the sources, else a
folder in the temporary directory. Numba only looks at the file of a kernel, not at the files of the kernels
it calls, so the folder name carries a digest of all kernel files and of the flags below: a changed kernel
never meets an old cache.
"""

from __future__ import annotations

import getpass
import hashlib
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, cast

import numba
import numpy as np

_HERE = Path(__file__).parent
_SETTINGS: Any = numba.config  # made at import, so no checker knows its names
# What a kernel hands to another one. To numba a bare 0 or False in a call is a type of its own, so it would
# compile the called kernel once more for each; numpy's numbers have the type any other number has.
ZERO: Any = np.int64(0)
ONE: Any = np.int64(1)
NO: Any = np.False_
YES: Any = np.True_


def _digest() -> str:
    digest = hashlib.sha256(numba.__version__.encode())
    for source in (Path(__file__), *sorted(_HERE.glob("kernel_*.py"))):
        digest.update(source.read_bytes())
    return digest.hexdigest()[:12]


def _writable(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def cache_folder() -> Path | None:
    """Return the first writable cache folder, or None where nothing can be written."""
    wanted = _SETTINGS.CACHE_DIR  # numba reads NUMBA_CACHE_DIR
    places = [Path(wanted)] if wanted else [_HERE / "__pycache__"]
    places.append(Path(tempfile.gettempdir()) / f"coachlight-kernels-{getpass.getuser()}")
    for place in places:
        folder = place / f"shade-{_digest()}"
        if _writable(folder):
            return folder
    return None


def kernel[Kernel: Callable[..., Any]](function: Kernel) -> Kernel:
    """Return the function compiled on first use, keeping its declared types."""
    return cast(Kernel, _compile(function))


def plain_kernel[Kernel: Callable[..., Any]](function: Kernel) -> Kernel:
    """Return a kernel for the innermost loops: unchecked, uncounted, and put whole into those that call it.

    The check for division by zero keeps a loop from vectors. Counting references is an atomic addition for
    each array and call; without it a kernel must not make arrays. A call hands over seven numbers for each
    array, which takes longer than many a short loop. ``_nrt`` is the one option here that numba's manual
    does not list, and no listed one stops the counting: with counting a further wiring takes a tenth longer.
    """
    return cast(Kernel, _compile(function, error_model="numpy", _nrt=False, forceinline=True))


_FOLDER = cache_folder()


def _compile(function: Callable[..., Any], **more: Any) -> Any:
    before = _SETTINGS.CACHE_DIR
    _SETTINGS.CACHE_DIR = str(_FOLDER) if _FOLDER else before
    try:
        return numba.njit(
            cache=_FOLDER is not None, nogil=True, fastmath={"contract", "nsz", "arcp", "reassoc"}, **more
        )(function)
    finally:
        _SETTINGS.CACHE_DIR = before
