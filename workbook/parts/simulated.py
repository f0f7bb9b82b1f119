"""The simulation of frames as panels use it, brought in at this one place."""

from expocalc.frames.measure.picture import stretch
from expocalc.frames.simulate.detector import even_detector
from expocalc.frames.simulate.scene import Scene, even_scene
from expocalc.frames.simulate.stack import stacks_of

__all__ = ["Scene", "even_detector", "even_scene", "stacks_of", "stretch"]
