"""Filters every template has: numbers with their unit, words with their mark."""

from django import template

register = template.Library()
