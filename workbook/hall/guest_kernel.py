"""A guest's kernel: without the debugger, which no page may ask for and which takes 8 MB of every kernel."""

import sys

__all__ = ["main"]


def main() -> None:
    """Run it."""
    sys.modules["debugpy"] = None  # type: ignore[assignment]  # as where it is not installed
    from ipykernel.kernelapp import launch_new_instance

    launch_new_instance()


if __name__ == "__main__":
    main()
