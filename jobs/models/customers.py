"""Whom to reach at a customer's, and where."""

from __future__ import annotations

from uuid import uuid4

from django.db import models
from django.db.models import Q

from jobs.models.orders import Customer


class CustomerContact(models.Model):
    """One person at a customer's; how the customer is reached first stands with the customer."""

    key = models.UUIDField(unique=True, default=uuid4, editable=False)
    customer = models.ForeignKey(Customer, models.CASCADE, related_name="contacts")
    name = models.CharField(max_length=120, help_text="Who it is.")
    role = models.CharField(max_length=80, blank=True, help_text="What they are asked about: bills, the site, colour.")
    email = models.EmailField("e-mail", blank=True, help_text="Empty where there is none.")
    phone = models.CharField("telephone", max_length=40, blank=True, help_text="Empty where there is none.")
    note = models.CharField(max_length=400, blank=True, help_text="When to ring, what to bear in mind.")
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name", "id"]
        constraints = [models.CheckConstraint(condition=~Q(name=""), name="contact_has_a_name")]

    def __str__(self) -> str:
        return self.name


class CustomerAddress(models.Model):
    """One address of a customer, beside the one that stands with the customer."""

    class Kind(models.TextChoices):
        BILLING = "billing", "billing"
        DELIVERY = "delivery", "delivery"
        SITE = "site", "the site"
        OTHER = "other", "other"

    key = models.UUIDField(unique=True, default=uuid4, editable=False)
    customer = models.ForeignKey(Customer, models.CASCADE, related_name="addresses")
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.DELIVERY, help_text="What it is for.")
    address = models.TextField(max_length=400, help_text="A line each, as it is written on a parcel.")
    note = models.CharField(max_length=400, blank=True, help_text="The way in, opening hours, who has the key.")
    saves = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["kind", "id"]
        constraints = [models.CheckConstraint(condition=~Q(address=""), name="address_says_where")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} address"
