"""What an instrument answers when it is asked who it is.

Source: MIDI 1.0 Detailed Specification, Universal System Exclusive Messages, General Information: Identity Request
(F0 7E <device> 06 01 F7) and Identity Reply (F0 7E <device> 06 02 <manufacturer> <family, 2 bytes> <member, 2 bytes>
<version, 4 bytes> F7). A manufacturer's number has one byte, or three of which the first is 0; two-byte numbers have
their low seven bits first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

IDENTITY_REQUEST = (0xF0, 0x7E, 0x7F, 0x06, 0x01, 0xF7)
"""To every device (7F)."""
_BEGINS = (0xF0, 0x7E)
_REPLY = (0x06, 0x02)


@dataclass(frozen=True)
class Identity:
    """An instrument by its numbers; which maker has which is published by the MIDI Association."""

    manufacturer: tuple[int, ...]
    family: int
    member: int
    version: tuple[int, ...]

    def __str__(self) -> str:
        """As it is written into a file.

        >>> str(Identity((0x7D,), 258, 3, (1, 0, 0, 2)))
        'manufacturer 7D, family 258, member 3, version 1.0.0.2'
        """
        maker = " ".join(f"{byte:02X}" for byte in self.manufacturer)
        version = ".".join(map(str, self.version))
        return f"manufacturer {maker}, family {self.family}, member {self.member}, version {version}"


def read_identity(message: Sequence[int]) -> Identity | None:
    """The reply that a message is; None when it is none, or a garbled one."""
    bytes_ = tuple(message)
    if bytes_[:2] != _BEGINS or bytes_[3:5] != _REPLY or bytes_[-1] != 0xF7:
        return None
    data = bytes_[5:-1]
    makers = 3 if data[:1] == (0,) else 1
    if len(data) != makers + 8 or max(data) > 0x7F:
        return None
    family, member, version = data[makers : makers + 2], data[makers + 2 : makers + 4], data[makers + 4 :]
    return Identity(data[:makers], family[0] | family[1] << 7, member[0] | member[1] << 7, version)
