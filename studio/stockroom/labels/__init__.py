"""Lot labels, sized in millimetres; may import the stockroom's own modules, house and kit."""
