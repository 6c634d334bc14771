"""The door: where the app listens, which names it answers to, and the code that lets other devices in."""

from __future__ import annotations

import socket
from dataclasses import dataclass, field, replace
from pathlib import Path

from carwright.web.guard.hosts import LOOPBACK
from carwright.web.guard.pairing import Keys, keys_in, new_code


@dataclass
class Door:
    """Who may come in, and by what address.

    Attributes
    ----------
    keys : Keys
        What sessions are signed with.
    port : int
        Where it listens.
    addresses : tuple[str, ...]
        Addresses of this machine on the house network; empty where only this machine may come in.
    secure : bool
        Whether it speaks TLS.
    code : str
        What another device gives once.
    folder : Path or None
        Where the keys are kept, None where they are not.
    """

    keys: Keys
    port: int = 8300
    addresses: tuple[str, ...] = ()
    secure: bool = False
    code: str = field(default_factory=new_code)
    folder: Path | None = None

    @property
    def names(self) -> frozenset[str]:
        """Host names the app answers to."""
        return LOOPBACK | frozenset(self.addresses)

    @property
    def is_open(self) -> bool:
        """Whether other devices may come in."""
        return bool(self.addresses)

    def let_all_go(self) -> None:
        """Know no paired device any more, and take another code."""
        self.keys = (
            replace(self.keys, round=self.keys.round + 1) if self.folder is None else keys_in(self.folder, let_go=True)
        )
        self.code = new_code()

    def link(self) -> str:
        """Where another device pairs, "" where none may come in."""
        return f"{self.url(self.addresses[0])}/pair?code={self.code}" if self.addresses else ""

    def url(self, host: str = "127.0.0.1") -> str:
        """Address of the app at a host."""
        return f"http{'s' if self.secure else ''}://{f'[{host}]' if ':' in host else host}:{self.port}"


def house_addresses() -> tuple[str, ...]:
    """Names and addresses by which other devices in the house can reach this machine; nothing is sent to learn them."""
    found: list[str] = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address for documentation (RFC 5737); UDP sends nothing yet
            found.append(probe.getsockname()[0])
        except OSError:
            pass
    name = socket.gethostname().split(".")[0].casefold()
    try:
        found += [str(each[4][0]) for each in socket.getaddrinfo(name, None, socket.AF_INET)]
    except OSError:
        name = ""
    found += [name, f"{name}.local"] if name else []
    return tuple(dict.fromkeys(each for each in found if each and not each.startswith("127.")))
