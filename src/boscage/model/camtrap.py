"""Table schemas of Camtrap DP 1.0 (TDWG), as far as they constrain a cell, and the check of one cell.

Names, order and vocabularies follow the standard's tables as PyPI camtrapdp 0.1.0 lists them; limits are those of the
schemas of TDWG, read in an earlier version and for 1.0 partly from memory. Versions 1.0, 1.0.1 and 1.0.2 have the same
terms; 1.0.2 adds NA to what counts as missing.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

LAYER, PACKAGE = "cameras", "datapackage.json"
"""The plan's key of the layer, and the file that makes a folder a package."""
VERSION = "1.0.2"
VERSIONS = ("1.0", "1.0.1", "1.0.2")
PROFILE = "https://raw.githubusercontent.com/tdwg/camtrap-dp/{version}/camtrap-dp-profile.json"
SCHEMA = "https://raw.githubusercontent.com/tdwg/camtrap-dp/{version}/{table}-table-schema.json"
MISSING = ("", "NA", "NaN", "nan")
TRUE, FALSE = ("true", "True", "TRUE", "1"), ("false", "False", "FALSE", "0")
_STAMP = re.compile(r"^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?(Z|[+-]\d{2}:?\d{2})$")
_STAMP_BARE = re.compile(r"^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?$")


@dataclass(frozen=True, kw_only=True)
class Column:
    """What a column may hold.

    Attributes:
        kind: `string`, `number`, `integer`, `boolean` or `datetime`.
        required: Whether a cell may not be missing.
        unique: Whether no value may stand twice.
        low, high: Least and greatest number.
        words: Allowed words; empty for any.
        pattern: Regular expression, or ''.
    """

    kind: str = "string"
    required: bool = False
    unique: bool = False
    low: float = -math.inf
    high: float = math.inf
    words: tuple[str, ...] = ()
    pattern: str = ""


_TEXT, _KEY = Column(), Column(required=True, unique=True)
_NEEDED, _TIME = Column(required=True), Column(kind="datetime", required=True)
_FLAG, _SHARE = Column(kind="boolean"), Column(kind="number", low=0.0, high=1.0)
_LENGTH = Column(kind="number", low=0.0)
_SIDE = Column(kind="number", low=1e-15, high=1.0)

DEPLOYMENTS: Mapping[str, Column] = {
    "deploymentID": _KEY, "locationID": _TEXT, "locationName": _TEXT,
    "latitude": Column(kind="number", required=True, low=-90.0, high=90.0),
    "longitude": Column(kind="number", required=True, low=-180.0, high=180.0),
    "coordinateUncertainty": Column(kind="integer", low=1), "deploymentStart": _TIME, "deploymentEnd": _TIME,
    "setupBy": _TEXT, "cameraID": _TEXT, "cameraModel": _TEXT, "cameraDelay": Column(kind="integer", low=0),
    "cameraHeight": _LENGTH, "cameraDepth": _LENGTH, "cameraTilt": Column(kind="integer", low=-90, high=90),
    "cameraHeading": Column(kind="integer", low=0, high=360), "detectionDistance": _LENGTH, "timestampIssues": _FLAG,
    "baitUse": _FLAG,
    "featureType": Column(words=(
        "roadPaved", "roadDirt", "trailHiking", "trailGame", "roadUnderpass", "roadOverpass", "roadBridge", "culvert",
        "burrow", "nestSite", "carcass", "waterSource", "fruitingTree",
    )),
    "habitat": _TEXT, "deploymentGroups": _TEXT, "deploymentTags": _TEXT, "deploymentComments": _TEXT,
}  # fmt: skip
MEDIA: Mapping[str, Column] = {
    "mediaID": _KEY, "deploymentID": _NEEDED, "captureMethod": Column(words=("activityDetection", "timeLapse")),
    "timestamp": _TIME, "filePath": Column(required=True, pattern=r"^(?=^[^./~])(^((?!\.{2}).)*$).*$"),
    "filePublic": Column(kind="boolean", required=True), "fileName": _TEXT,
    "fileMediatype": Column(required=True, pattern=r"^(image|video|audio)/.*$"), "exifData": _TEXT, "favorite": _FLAG,
    "mediaComments": _TEXT,
}  # fmt: skip
OBSERVATIONS: Mapping[str, Column] = {
    "observationID": _KEY, "deploymentID": _NEEDED, "mediaID": _TEXT, "eventID": _TEXT, "eventStart": _TIME,
    "eventEnd": _TIME, "observationLevel": Column(required=True, words=("media", "event")),
    "observationType": Column(
        required=True, words=("animal", "human", "vehicle", "blank", "unknown", "unclassified")
    ),
    "cameraSetupType": Column(words=("setup", "calibration")), "scientificName": _TEXT,
    "count": Column(kind="integer", low=1), "lifeStage": Column(words=("adult", "subadult", "juvenile")),
    "sex": Column(words=("female", "male")), "behavior": _TEXT, "individualID": _TEXT,
    "individualPositionRadius": _LENGTH, "individualPositionAngle": Column(kind="number", low=-90.0, high=90.0),
    "individualSpeed": _LENGTH, "bboxX": _SHARE, "bboxY": _SHARE, "bboxWidth": _SIDE, "bboxHeight": _SIDE,
    "classificationMethod": Column(words=("human", "machine")), "classifiedBy": _TEXT,
    "classificationTimestamp": Column(kind="datetime"), "classificationProbability": _SHARE, "observationTags": _TEXT,
    "observationComments": _TEXT,
}  # fmt: skip
TABLES: Mapping[str, Mapping[str, Column]] = {
    "deployments": DEPLOYMENTS, "media": MEDIA, "observations": OBSERVATIONS,
}  # fmt: skip


def check_cell(value: str, column: Column) -> str:
    """What is wrong with a cell and what was expected; '' for nothing.

    >>> check_cell("0", Column(kind="integer", low=1))
    'is 0; expected 1 or more'
    """
    if value in MISSING:
        return "is missing; expected a value" if column.required else ""
    if column.kind == "datetime":
        return _check_time(value)
    if column.kind in ("number", "integer"):
        return _check_number(value, column)
    if column.kind == "boolean" and value not in (*TRUE, *FALSE):
        return f"is {value}; expected true or false"
    if column.words and value not in column.words:
        return f"is {value}; expected one of {', '.join(column.words)}"
    return "" if re.match(column.pattern, value) else f"is {value}; expected what the standard's pattern allows"


def read_time(value: str) -> dt.datetime:
    """A time that `check_cell` has let pass."""
    return dt.datetime.fromisoformat(value.replace("Z", "+00:00"))


def _check_time(value: str) -> str:
    if _STAMP_BARE.match(value):
        return f"is {value}, without a time zone; expected such as 2026-11-05T19:46:38-06:00"
    if not _STAMP.match(value):
        return f"is {value}; expected a date and time with its zone such as 2026-11-05T19:46:38-06:00"
    try:
        read_time(value)
    except ValueError:
        return f"is {value}, which is no day or time of day; expected such as 2026-11-05T19:46:38-06:00"
    return ""


def _check_number(value: str, column: Column) -> str:
    try:
        number = float(value)
    except ValueError:
        number = math.nan
    whole = column.kind == "integer"
    if not math.isfinite(number) or (whole and not re.match(r"^[+-]?\d+$", value.strip())):
        return f"is {value}; expected a {'whole number' if whole else 'number'}"
    if column.low <= number <= column.high:
        return ""
    if math.isinf(column.high):
        return f"is {value}; expected {column.low:g} or more"
    return f"is {value}; expected {column.low:g} to {column.high:g}"
