"""Paper for the truck and the floor: plan, section, lists, power, meter sheet, and all of it as one pack."""
