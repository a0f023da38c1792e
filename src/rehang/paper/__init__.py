"""The printed sheets: the tray record and the blank tray sheet, as tagged PDF."""

from rehang.paper.sheets import blank_sheet_pdf, tray_record_pdf

__all__ = ["blank_sheet_pdf", "tray_record_pdf"]
