"""What the light passes: telescope, filter and camera, up to the electrons that one photon makes."""
