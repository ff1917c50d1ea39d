"""What units earn and cost: their days, what stopped them, and the work and parts they took."""
