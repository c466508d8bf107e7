"""What documents say: frozen sheets read as of one instant, in a fixed number of queries each."""

from reports.queries.documents import document, documents, recent_inspections, recent_walks
from reports.queries.inspection import inspection_sheet, walk_sheet
from reports.queries.labels import label_sheet
from reports.queries.line import line_sheet
from reports.queries.property import property_records
from reports.queries.tag import tag_sheet
from reports.queries.verification import verification_sheet

__all__ = [
    "document",
    "documents",
    "inspection_sheet",
    "label_sheet",
    "line_sheet",
    "property_records",
    "recent_inspections",
    "recent_walks",
    "tag_sheet",
    "verification_sheet",
    "walk_sheet",
]
