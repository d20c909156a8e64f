"""Reading the files users write: text → TOML table → canonical units → validated part, or one message of what is wrong."""

from ridesim.forms.changing import changed_table, differences, opened, places_of, value_at, with_row
from ridesim.forms.csv_rows import CsvRow, csv_rows, each_row
from ridesim.forms.files import not_an_input, read_table, read_text, write_beside_then_replace, write_new
from ridesim.forms.in_play import InPlay, Unsure, exact
from ridesim.forms.parts import Name, NamedByFile, Part, PartType, Row, part_of, quantity
from ridesim.forms.validation import field_for, validate
from ridesim.forms.widths import (
    END_SCORE,
    KeyWidth,
    Spread,
    as_table,
    correlation_matrix,
    is_width,
    likely_of,
    limits_of,
    plus,
    scaled,
    takes_width,
    times,
    usual_width,
    value_at_score,
)
