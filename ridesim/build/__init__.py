"""What the vehicle is: one module a part, and loading and saving of build files."""

from ridesim.build.build import Build
from ridesim.build.care import CARE, Care
from ridesim.build.chemistry import CHEMISTRIES, Chemistry
from ridesim.build.controller import Controller
from ridesim.build.drive import Drive
from ridesim.build.files import change_build, load_build, save_build
from ridesim.build.lighting import Light, Lighting
from ridesim.build.motor import INSULATION_LIMITS_C, Motor
from ridesim.build.pack import Pack
from ridesim.build.vehicle import Brake, Item, Rider, Vehicle

__all__ = [
    "CARE",
    "CHEMISTRIES",
    "INSULATION_LIMITS_C",
    "Brake",
    "Build",
    "Care",
    "Chemistry",
    "Controller",
    "Drive",
    "Item",
    "Light",
    "Lighting",
    "Motor",
    "Pack",
    "Rider",
    "Vehicle",
    "change_build",
    "load_build",
    "save_build",
]
