"""What somebody should look at today: exceptions, check weights, estimates and how good they were."""
