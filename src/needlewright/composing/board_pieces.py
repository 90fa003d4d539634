"""What the inspected board of a job says."""

from collections.abc import Iterator

from needlewright.composing.board import board_evidence
from needlewright.composing.evidence_piece import Material, Piece, Place
from needlewright.records.board import board_of


def board(material: Material) -> Iterator[Piece]:
    """The pins that were set on photos of a job's board.

    Parameters
    ----------
    material
        The job.

    Yields
    ------
    Piece
        What they speak for and against.
    """
    view = board_of(material.shop, material.job.tag)
    for piece in board_evidence(view):
        yield Piece(piece, piece.words, piece.seen_in, Place("board", material.job.id))
