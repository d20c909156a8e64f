"""What the vehicle is: one module a part, and loading and saving of builds."""

from ridesim.vehicle.build import Build
from ridesim.vehicle.charger import OwnCharger
from ridesim.vehicle.chassis import Brake, Item, Rider, Vehicle
from ridesim.vehicle.chemistry import CHEMISTRIES, Chemistry
from ridesim.vehicle.controller import Controller
from ridesim.vehicle.drive import Drive
from ridesim.vehicle.files import load_build, save_build
from ridesim.vehicle.lighting import Light, Lighting
from ridesim.vehicle.motor import INSULATION_LIMITS_C, Motor
from ridesim.vehicle.pack import Pack
