# SPDX-License-Identifier: GPL-2.0-or-later
"""The schema of every layer. No import of the host or numpy here: parameters need it early."""

from __future__ import annotations

from dataclasses import dataclass

HOLD, LEAVE_OUT = "hold", "leave out"
"""The words of the field `choice` of stations; ties know the second."""

TEXT, INTEGER, LONG, REAL, BOOLEAN = "text", "integer", "long", "real", "boolean"


@dataclass(frozen=True)
class LayerSchema:
    """A layer's name in the GeoPackage, its title for people, geometry and fields (name, type);
    `later` are fields that layers of earlier versions lack."""

    name: str
    title: str
    geometry: str
    fields: tuple[tuple[str, str], ...]
    later: tuple[str, ...] = ()

    @property
    def field_names(self) -> tuple[str, ...]:
        return tuple(name for name, _ in self.fields)

    def fits(self, field_names: set[str]) -> bool:
        """Whether a layer with these fields is of this schema or of an earlier version of it."""
        return set(self.field_names) - set(self.later) <= field_names


STATIONS = LayerSchema(
    "stations",
    "Stations",
    "Point",
    (
        ("station", TEXT),
        ("capture_file", TEXT),
        ("captured_at", TEXT),
        ("level", INTEGER),
        ("instrument_height_m", REAL),
        ("tilt_deg", REAL),
        ("moved", BOOLEAN),
        ("compass_calibrated", BOOLEAN),
        ("magnetic_azimuth_deg", REAL),
        ("magnetic_azimuth_sigma_deg", REAL),
        ("longitude_deg", REAL),
        ("latitude_deg", REAL),
        ("geotag_sigma_m", REAL),
        ("ellipsoidal_height_m", REAL),
        ("distance_sigma_mm", REAL),
        ("angle_sigma_deg", REAL),
        ("distance_zero_mm", REAL),
        ("axis_eccentricity_mm", REAL),
        ("angle_scale_ppm", REAL),
        ("comment", TEXT),
        ("readings", INTEGER),
        ("used", INTEGER),
        ("x_m", REAL),
        ("y_m", REAL),
        ("orientation_deg", REAL),
        ("sigma_orientation_deg", REAL),
        ("sigma_x_mm", REAL),
        ("sigma_y_mm", REAL),
        ("cov_xy_mm2", REAL),
        ("network", INTEGER),
        ("status", TEXT),
        ("choice", TEXT),
        ("proposal", TEXT),
    ),
    later=("distance_zero_mm", "axis_eccentricity_mm", "angle_scale_ppm", "choice", "proposal"),
)

READINGS = LayerSchema(
    "readings",
    "Readings",
    "Point",
    (
        ("station", TEXT),
        ("level", INTEGER),
        ("seq", INTEGER),
        ("angle_deg", REAL),
        ("zenith_deg", REAL),
        ("slope_distance_m", REAL),
        ("distance_m", REAL),
        ("kind", TEXT),
        ("target", TEXT),
        ("intensity", REAL),
        ("flag", TEXT),
        ("residual_mm", REAL),
        ("wall", TEXT),
    ),
)

TARGETS = LayerSchema(
    "targets",
    "Targets",
    "Point",
    (
        ("target", TEXT),
        ("x_m", REAL),
        ("y_m", REAL),
        ("sigma_x_mm", REAL),
        ("sigma_y_mm", REAL),
        ("cov_xy_mm2", REAL),
        ("sightings", INTEGER),
        ("role", TEXT),
        ("network", INTEGER),
        ("level", INTEGER),
    ),
)

TIES = LayerSchema(
    "ties",
    "Ties",
    "LineString",
    (
        ("tie", TEXT),
        ("from_station", TEXT),
        ("to_station", TEXT),
        ("kind", TEXT),
        ("residual_mm", REAL),
        ("residual_deg", REAL),
        ("standardised", REAL),
        ("redundancy", REAL),
        ("detectable_mm", REAL),
        ("detectable_deg", REAL),
        ("used", BOOLEAN),
        ("reason", TEXT),
        ("choice", TEXT),
        ("sigma_factor", REAL),
        ("level", INTEGER),
    ),
    later=("detectable_mm", "detectable_deg", "choice", "sigma_factor"),
)

WALL_FACES = LayerSchema(
    "wall_faces",
    "Wall faces",
    "LineString",
    (
        ("wall", TEXT),
        ("plot_scale", INTEGER),
        ("readings", INTEGER),
        ("stations", TEXT),
        ("length_m", REAL),
        ("azimuth_deg", REAL),
        ("sigma_azimuth_deg", REAL),
        ("sigma_offset_mm", REAL),
        ("rms_mm", REAL),
        ("largest_residual_mm", REAL),
        ("squared_by_deg", REAL),
        ("curve", TEXT),
        ("radius_m", REAL),
        ("sigma_radius_mm", REAL),
        ("bounds_room", BOOLEAN),
        ("network", INTEGER),
        ("level", INTEGER),
    ),
    later=("curve", "radius_m", "sigma_radius_mm"),
)

ROOMS = LayerSchema(
    "rooms",
    "Rooms",
    "Polygon",
    (
        ("room", TEXT),
        ("name", TEXT),
        ("plot_scale", INTEGER),
        ("area_m2", REAL),
        ("sigma_area_m2", REAL),
        ("sigma_seen_m2", REAL),
        ("perimeter_m", REAL),
        ("sigma_perimeter_mm", REAL),
        ("seen_share", REAL),
        ("stations", TEXT),
        ("network", INTEGER),
        ("level", INTEGER),
    ),
    later=("sigma_seen_m2", "sigma_perimeter_mm"),
)

OPENINGS = LayerSchema(
    "openings",
    "Openings",
    "LineString",
    (
        ("opening", TEXT),
        ("kind", TEXT),
        ("width_m", REAL),
        ("sigma_width_mm", REAL),
        ("wall_thickness_m", REAL),
        ("room_a", TEXT),
        ("room_b", TEXT),
        ("plot_scale", INTEGER),
        ("network", INTEGER),
        ("level", INTEGER),
    ),
)

ERROR_BAND = LayerSchema(
    "error_band",
    "Error band (95 %)",
    "MultiPolygon",
    (
        ("network", INTEGER),
        ("probability", REAL),
        ("least_width_m", REAL),
        ("greatest_width_m", REAL),
        ("sigma_rotation_deg", REAL),
    ),
)

TAPED_DISTANCES = LayerSchema(
    "taped_distances",
    "Taped distances",
    "LineString",
    (
        ("from_ref", TEXT),
        ("to_ref", TEXT),
        ("taped_m", REAL),
        ("sigma_taped_mm", REAL),
        ("plan_m", REAL),
        ("sigma_plan_mm", REAL),
        ("difference_mm", REAL),
        ("tolerance_mm", REAL),
        ("verdict", TEXT),
        ("level", INTEGER),
    ),
)

NETWORK_COVARIANCE = LayerSchema(
    "network_covariance",
    "Network covariance",
    "NoGeometry",
    (
        ("station_a", TEXT),
        ("station_b", TEXT),
        ("cov_xx_mm2", REAL),
        ("cov_xy_mm2", REAL),
        ("cov_xo_mm_deg", REAL),
        ("cov_yx_mm2", REAL),
        ("cov_yy_mm2", REAL),
        ("cov_yo_mm_deg", REAL),
        ("cov_ox_mm_deg", REAL),
        ("cov_oy_mm_deg", REAL),
        ("cov_oo_deg2", REAL),
    ),
)

SURVEY_NOTES = LayerSchema(
    "survey_notes",
    "Survey notes",
    "NoGeometry",
    (("kind", TEXT), ("subject", TEXT), ("name", TEXT), ("value", TEXT)),
)
"""What a plan keeps of its survey that the other layers have no field for (`survey_notes`)."""

KNOWN_POINTS = LayerSchema(
    "known_points",
    "Known points",
    "NoGeometry",
    (
        ("name", TEXT),
        ("east_m", REAL),
        ("north_m", REAL),
        ("height_m", REAL),
        ("sigma_mm", REAL),
        ("crs", TEXT),
        ("station", BOOLEAN),
        ("source", TEXT),
    ),
)

CHANGES = LayerSchema(
    "changes",
    "Changes of the building layer",
    "MultiPolygon",
    (
        ("change", TEXT),
        ("action", TEXT),
        ("accepted", BOOLEAN),
        ("group_no", INTEGER),
        ("old_id", TEXT),
        ("assigned_id", TEXT),
        ("new_room", TEXT),
        ("name", TEXT),
        ("level", INTEGER),
        ("old_area_m2", REAL),
        ("new_area_m2", REAL),
        ("difference_m2", REAL),
        ("sigma_difference_m2", REAL),
        ("standardised", REAL),
        ("significant", BOOLEAN),
        ("offset_mm", REAL),
        ("tolerance_mm", REAL),
        ("moved_x_m", REAL),
        ("moved_y_m", REAL),
        ("sigma_edge_mm", REAL),
        ("reason", TEXT),
        ("row_state", TEXT),
    ),
)

LAYER_FINDINGS = LayerSchema(
    "layer_findings",
    "Findings on the building layer",
    "MultiPolygon",
    (
        ("check_name", TEXT),
        ("rooms", TEXT),
        ("finding", TEXT),
        ("proposed_fix", TEXT),
        ("level", INTEGER),
    ),
)

PLAN_LAYERS = (
    ERROR_BAND,
    ROOMS,
    WALL_FACES,
    OPENINGS,
    STATIONS,
    TARGETS,
    TIES,
    READINGS,
    NETWORK_COVARIANCE,
)


def schema_with(field_names: set[str]) -> LayerSchema | None:
    """The plan layer that has these fields, if one does."""
    return next((s for s in PLAN_LAYERS if s.fits(field_names)), None)
