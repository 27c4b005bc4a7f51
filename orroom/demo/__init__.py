"""An invented case and a simulated team, entered through the same door as everybody else."""
