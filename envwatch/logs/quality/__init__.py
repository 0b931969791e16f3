"""What a reading is worth: marks, sensors, calibrations."""
