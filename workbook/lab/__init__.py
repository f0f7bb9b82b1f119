"""What JupyterLab needs: the small extension, its settings, the kernel, and two hooks on the Python side."""
