"""The torque cards."""
