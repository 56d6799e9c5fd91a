"""Documents from the same figures as the screens: one HTML page, or a plain workbook."""

from pipeline.report.write import write_report

__all__ = ["write_report"]
