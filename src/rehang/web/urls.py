"""Every address of the pages, room by room; the JSON API stands beside them under ``/api/``."""

from django.urls import path

from rehang.web.away.urls import urlpatterns as away
from rehang.web.begin.urls import urlpatterns as begin
from rehang.web.board.urls import urlpatterns as board
from rehang.web.extra.urls import urlpatterns as extra
from rehang.web.facts.urls import urlpatterns as facts
from rehang.web.files.urls import urlpatterns as files
from rehang.web.find.urls import urlpatterns as find
from rehang.web.item.urls import urlpatterns as item
from rehang.web.monitor.urls import urlpatterns as monitor
from rehang.web.record.urls import urlpatterns as record
from rehang.web.run.urls import urlpatterns as run
from rehang.web.shared.mode import set_mode
from rehang.web.shop.urls import urlpatterns as shop
from rehang.web.story.urls import urlpatterns as story
from rehang.web.torque.urls import urlpatterns as torque
from rehang.web.tray.urls import urlpatterns as tray
from rehang.web.work.urls import urlpatterns as work

app_name = "web"

urlpatterns = [
    path("mode/", set_mode, name="mode"),
    *away,
    *tray,
    *item,
    *begin,
    *board,
    *shop,
    *facts,
    *files,
    *find,
    *story,
    *record,
    *torque,
    *run,
    *work,
    *extra,
    *monitor,
]
