"""`nightproof cache`: what is kept between runs, how large it is, and its removal."""

from __future__ import annotations

from typing import Annotated

import typer

from simulator.app.cli.command import Command


def cache(
    *,
    clear: Annotated[bool, typer.Option("--clear", help="Remove all that is kept.")] = False,
) -> None:
    """Show what is kept on disk between runs, or remove it.

    Compiled code, bounced light, layers of pictures and templates of readers are kept by their
    content: nothing of it is ever out of date, and all of it is made again when it is missing.
    NIGHTPROOF_CACHE_DIR names another folder, NIGHTPROOF_CACHE_DIR=off keeps nothing.
    """
    from simulator import disk_cache

    if not disk_cache.base_folders():
        print(f"nothing is kept: {disk_cache.FOLDER_VARIABLE} is {disk_cache.OFF}")
        return
    if clear:
        print(f"removed:  {disk_cache.clear() / 1e6:.1f} MB")
        return
    sizes = disk_cache.sizes()
    for folder, size in sizes.items():
        print(f"{folder.name + ':':<10}{size / 1e6:.1f} MB in {folder}")
    if not sizes:
        print(f"nothing is kept yet in {disk_cache.base_folders()[0]}")


COMMAND = Command("cache", cache, 160)
