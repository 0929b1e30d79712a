"""A unit about which everything is known and nothing is wrong; where not said, figures are those of the
catalogue.

13 in, 0.9218 ft2, carbon 12x40 30 in deep, 16 in of freeboard, water of 5 to 18 degC: the project's worked
example, whose window is 8.61 to 9.87 gpm, so 9 gpm are right. 9.2 gpm in service at 10 gpm/ft2; 9 x 0.9 = 8.1
gpm wanted of the supply; 60 - 5 - 4 x 0.433 psi and some friction leave over 40 psi; 3/4 in of drain carry 10
gpm; life 3.87 years.
"""

DOCUMENTED = {
    "unit_id": "U-1",
    "account": "Invented Mill",
    "status": "in service",
    "kind": "filter",
    "vessel_label": "A",
    "vessel_diameter": "13 in",
    "vessel_height": "54 in",
    "vessels": "1",
    "wash_together": "no",
    "medium": "activated-carbon-12x40",
    "mesh_stated": "yes",
    "purpose": "chlorine",
    "volume_is_total": "no",
    "bed_depth": "30 in",
    "gravel_depth": "0 in",
    "freeboard": "16 in",
    "media_date": "2025-03-01",
    "install_date": "2020-01-15",
    "restrictor": "9 gpm",
    "restrictor_label": "yes",
    "housing": "medium",
    "connections": "right",
    "measured_flow": "9 gpm",
    "service_flow": "6 gpm",
    "supply_flow": "12 gpm",
    "supply_pressure": "60 psi",
    "drain_bore": "0.75 in",
    "drain_length": "10 ft",
    "drain_rise": "4 ft",
    "water_source": "surface",
    "water_cold": "5 degC",
    "water_warm": "18 degC",
    "ph": "7",
    "wash_minutes": "10 min",
    "wash_interval": "3 d",
    "crew": "crew A",
    "media_crew": "crew B",
}
