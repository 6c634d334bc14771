"""A copy of a shop as it is at one moment, while others work on."""

from __future__ import annotations

import shutil
from pathlib import Path

from carwright.shop.address import Address
from carwright.shop.blobs import in_folder, place_of
from carwright.shop.engine import snapshot
from carwright.shop.faults import ShopError
from carwright.shop.merging import merge_shop
from carwright.shop.opening import open_shop
from carwright.shop.shop import Shop
from carwright.shop.source import Progress


def back_up(shop: Shop, target: Path, progress: Progress | None = None) -> int:
    """Copy a shop into a new SQLite shop: the database at one moment, then every photo it names.

    Parameters
    ----------
    shop : Shop
        In a file or in PostgreSQL.
    target : Path
        A file that is not there yet; its photo folder comes beside it.
    progress : callable, optional
        Told how many files are copied, of how many.

    Returns
    -------
    int
        How many photos and other files were copied.

    Raises
    ------
    ShopError
        "<target>: is there already; nothing was changed"
    """
    copy = Address(path=target)
    folder = copy.folder
    if folder is None:
        raise TypeError(target)
    if target.exists() or folder.exists():
        raise ShopError(f"{target if target.exists() else folder}: is there already; nothing was changed")
    part = Address(path=target.with_name(f"{target.name}.part"))
    if part.path is None or part.folder is None:
        raise TypeError(target)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        if part.path.exists() or part.folder.exists():
            raise ShopError(f"{part}: is there already, of another backup; remove it")
        copied = _copy(shop, part, progress)
        if part.folder.exists():
            part.folder.rename(folder)
        part.path.rename(target)
    except OSError as error:
        _remove(part)
        raise ShopError(f"{target}: cannot be written: {error.strerror or error}") from error
    return copied


def _copy(shop: Shop, part: Address, progress: Progress | None) -> int:
    if part.path is None or part.folder is None:
        raise TypeError(part)
    try:
        if shop.address.is_file:
            snapshot(shop.address, part.path)
            copied = _photos(shop, part.folder, progress)
        else:
            with open_shop(part, create=True) as made:
                merge_shop(made, shop, progress)
            copied = sum(1 for _ in in_folder(part.folder))
        with open_shop(part) as made:
            made.subjects()
    except BaseException:
        _remove(part)
        raise
    if part.path.with_name(f"{part.path.name}-wal").exists():
        raise ShopError(f"{part}: was not closed as it should be; try again")
    return copied


def _photos(shop: Shop, target: Path, progress: Progress | None) -> int:
    folder = shop.address.folder
    found = list(in_folder(folder)) if folder is not None and folder.exists() else []
    for done, digest in enumerate(found, 1):
        place = place_of(target, digest)
        place.parent.mkdir(parents=True, exist_ok=True)
        if folder is not None:
            shutil.copyfile(place_of(folder, digest), place)
        if progress is not None:
            progress(done, len(found))
    return len(found)


def _remove(part: Address) -> None:
    if part.path is None or part.folder is None:
        raise TypeError(part)
    for suffix in ("", "-wal", "-shm"):
        part.path.with_name(f"{part.path.name}{suffix}").unlink(missing_ok=True)
    if part.folder.exists():
        shutil.rmtree(part.folder)
