"""What a teacher would count in an arrangement, with targets."""
