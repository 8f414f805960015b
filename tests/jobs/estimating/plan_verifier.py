"""An independent check of cutting plans: it shares no line with what makes them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from jobs.estimating.basis import House
from jobs.estimating.cutting.plans import CuttingPlan, SheetPlan
from jobs.estimating.loads import Pane

Box = tuple[Fraction, Fraction, Fraction, Fraction]


def verify(plan: CuttingPlan, panes: Sequence[Pane], house: House, directed: frozenset[int] = frozenset()) -> None:
    """Inside the sheet, no overlap, each pane once at its own size, turned only where it may, and really parted."""
    assert sorted(p.pane.label for sheet in plan.sheets for p in sheet.pieces) == sorted(p.label for p in panes)
    for sheet in plan.sheets:
        boxes = [(p.left_mm, p.bottom_mm, p.left_mm + p.width_mm, p.bottom_mm + p.height_mm) for p in sheet.pieces]
        for left, bottom, right, top in boxes:
            assert sheet.trim_mm <= left < right <= sheet.width_mm - sheet.trim_mm
            assert sheet.trim_mm <= bottom < top <= sheet.height_mm - sheet.trim_mm
        for at, box in enumerate(boxes):
            for other in boxes[at + 1:]:
                gap = max(other[0] - box[2], box[0] - other[2], other[1] - box[3], box[1] - other[3])
                assert gap >= house.clearance_mm
        for piece in sheet.pieces:
            size = (piece.pane.size.cut_width_mm, piece.pane.size.cut_height_mm)
            assert (piece.width_mm, piece.height_mm) == (size[::-1] if piece.turned else size)
            assert not (piece.turned and piece.pane.line_number in directed)
        follow(sheet, boxes, house)


def follow(sheet: SheetPlan, boxes: list[Box], house: House) -> None:
    """Make the cuts one after the other on a sheet: what is in hand at the end is the panes and the left-overs."""
    trim = sheet.trim_mm
    in_hand: list[Box] = [(trim, trim, sheet.width_mm - trim, sheet.height_mm - trim)]
    for number, cut in enumerate(sheet.cuts, start=1):
        assert cut.number == number
        piece = (cut.piece_left_mm, cut.piece_bottom_mm, cut.piece_left_mm + cut.piece_width_mm,
                 cut.piece_bottom_mm + cut.piece_height_mm)
        assert piece in in_hand, "a cut is made in a piece that is in hand"
        in_hand.remove(piece)
        low, high = (0, 2) if cut.upright else (1, 3)
        at = piece[low] + cut.measured_mm
        assert piece[low] < at < piece[high]
        near, far = list(piece), list(piece)
        near[high], far[low] = at, min(at + house.clearance_mm, piece[high])
        if not any(box[low] >= at and inside(box, piece) for box in boxes):
            assert piece[high] - at >= house.smallest_strip_mm, "a strip of waste breaks off"
        in_hand += [tuple(part) for part in (near, far) if part[2] > part[0] and part[3] > part[1]]
    for box in boxes:
        assert box in in_hand, "every pane is cut free"
        in_hand.remove(box)
    for offcut in sheet.offcuts:
        assert (offcut.left_mm, offcut.bottom_mm, offcut.left_mm + offcut.width_mm,
                offcut.bottom_mm + offcut.height_mm) in in_hand
        assert min(offcut.width_mm, offcut.height_mm) >= house.smallest_offcut_mm


def inside(box: Box, piece: Box) -> bool:
    return box[0] >= piece[0] and box[1] >= piece[1] and box[2] <= piece[2] and box[3] <= piece[3]
