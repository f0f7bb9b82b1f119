"""What the numbers mean for a plan: sky, camera, the night that was, the stack."""
