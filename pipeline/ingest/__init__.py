"""Intake: work-order exports of any layout -> source_files, rejected_rows and calls."""

from pipeline.ingest.files import archive_of
from pipeline.ingest.proposal import LayoutProposal
from pipeline.ingest.propose import propose_layout, save_layout
from pipeline.ingest.stage import run

__all__ = ["LayoutProposal", "archive_of", "propose_layout", "run", "save_layout"]
