# One image for the web servers, the workers and the scheduler; docker-compose.yml says which is which.
FROM python:3.11-slim-bookworm

RUN useradd --system --uid 10001 --create-home holdair \
    && install --directory --owner holdair --group holdair /var/lib/holdair

ENV PYTHONUNBUFFERED=1 \
    PYTHONDONTWRITEBYTECODE=1 \
    DJANGO_SETTINGS_MODULE=readiness.settings \
    HOLDAIR_VAR=/var/lib/holdair \
    HOLDAIR_STATIC=/srv/holdair/static \
    HOLDAIR_STATICFILES=whitenoise.storage.CompressedManifestStaticFilesStorage

WORKDIR /srv/holdair

# Packages first: they change less often than the code, and this layer is kept until they do.
COPY requirements.txt ./
RUN pip install --no-cache-dir --disable-pip-version-check --require-hashes --requirement requirements.txt

COPY manage.py ./
COPY shared ./shared
COPY inventory ./inventory
COPY inspections ./inspections
COPY readiness ./readiness
COPY reports ./reports
# What the formulas are held against, for the Verification page.
COPY tests/check_values/*.csv ./tests/check_values/

# The key signs nothing here; a running service must be given its own.
RUN HOLDAIR_SECRET_KEY=only-for-collectstatic HOLDAIR_VAR=/tmp/build python manage.py collectstatic --noinput --verbosity 0 \
    && rm -rf /tmp/build

USER holdair
VOLUME /var/lib/holdair
EXPOSE 8000

CMD ["gunicorn", "readiness.wsgi:application", "--bind", "0.0.0.0:8000", "--workers", "3", "--access-logfile", "-"]
