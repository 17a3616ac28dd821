"""Setup sheets: what the operator takes to the machine, as a PDF."""

from silhouette3d.output.sheets.write import PAPERS, write_sheets

__all__ = ["PAPERS", "write_sheets"]
