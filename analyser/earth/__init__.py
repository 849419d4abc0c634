"""The ground truth below everything: geodesics, local planes, standard atmosphere, magnetic variation."""
