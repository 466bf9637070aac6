"""What a conductor carries, drops and needs: ampacity, device limits, impedance, voltage drop, sizing."""
