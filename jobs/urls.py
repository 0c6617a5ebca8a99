"""Knows the paths of the jobs app; each noun brings its own lines."""

from django.urls import URLPattern, path

from jobs.views import (
    change_order,
    customer,
    design,
    design_edit,
    guest,
    job,
    lay,
    member,
    module,
    part,
    quote,
    roof_shade,
    shade,
    shop,
    survey,
    vehicle,
    workspace,
)

app_name = "jobs"
urlpatterns: list[URLPattern] = [
    # job
    path("", job.job_board, name="job_board"),
    path("search/", job.job_search, name="job_search"),
    path("jobs/new/", job.job_create, name="job_create"),
    path("jobs/<int:pk>/", job.job_detail, name="job_detail"),
    path("jobs/<int:pk>/edit/", job.job_edit, name="job_edit"),
    path("jobs/<int:pk>/move/", job.job_move, name="job_move"),
    path("jobs/<int:pk>/papers/", job.job_papers, name="job_papers"),
    path("jobs/<int:pk>/log/", job.job_log, name="job_log"),
    # customer
    path("customers/", customer.customer_list, name="customer_list"),
    path("customers/new/", customer.customer_create, name="customer_create"),
    path("customers/<int:pk>/", customer.customer_detail, name="customer_detail"),
    path("customers/<int:pk>/edit/", customer.customer_edit, name="customer_edit"),
    # vehicle
    path("customers/<int:pk>/vehicles/new/", vehicle.vehicle_create, name="vehicle_create"),
    path("vehicles/<int:pk>/", vehicle.vehicle_detail, name="vehicle_detail"),
    path("vehicles/<int:pk>/edit/", vehicle.vehicle_edit, name="vehicle_edit"),
    # part
    path("catalogue/", part.part_list, name="part_list"),
    path("catalogue/modules/", module.module_list, name="module_list"),
    path("catalogue/new/", part.part_create, name="part_create"),
    path("catalogue/new/<slug:kind>/", part.part_create, name="part_create"),
    path("catalogue/<int:pk>/", part.part_detail, name="part_detail"),
    path("catalogue/<int:pk>/edit/", part.part_edit, name="part_edit"),
    path("catalogue/<int:pk>/fit/", part.panel_fit, name="panel_fit"),
    # shop
    path("shop/", shop.shop_edit, name="shop_edit"),
    # member
    path("people/", member.member_list, name="member_list"),
    path("people/new/", member.member_create, name="member_create"),
    path("people/<int:pk>/", member.member_edit, name="member_edit"),
    path("people/<int:pk>/link/", member.member_link, name="member_link"),
    # survey
    path("jobs/<int:job_pk>/survey/", survey.survey_detail, name="survey_detail"),
    path("jobs/<int:job_pk>/survey/<slug:part>/", survey.survey_edit, name="survey_edit"),
    path("places/", survey.place_search, name="place_search"),
    # quote (before the designs, whose parts are any word after the number)
    path("designs/<int:pk>/quote/", quote.quote_create, name="quote_create"),
    path("jobs/<int:job_pk>/quotes/", quote.quote_list, name="quote_list"),
    path("jobs/<int:job_pk>/deposit/", quote.deposit_record, name="deposit_record"),
    path("quotes/<int:pk>/", quote.quote_detail, name="quote_detail"),
    path("quotes/<int:pk>/edit/", quote.quote_edit, name="quote_edit"),
    path("quotes/<int:pk>/preview/", quote.quote_preview, name="quote_preview"),
    path("quotes/<int:pk>/send/", quote.quote_send, name="quote_send"),
    path("quotes/<int:pk>/link/", quote.quote_link, name="quote_link"),
    path("quotes/<int:pk>/review/", quote.quote_review, name="quote_review"),
    path("quotes/<int:pk>/copy/", quote.quote_copy, name="quote_copy"),
    path("quotes/<int:pk>/withdraw/", quote.quote_withdraw, name="quote_withdraw"),
    path("quotes/<int:pk>/quote.pdf", quote.quote_pdf, name="quote_pdf"),
    path("links/<int:pk>/revoke/", quote.link_revoke, name="link_revoke"),
    # change order
    path("jobs/<int:job_pk>/changes/new/", change_order.change_order_create, name="change_order_create"),
    path("changes/<int:pk>/", change_order.change_order_detail, name="change_order_detail"),
    path("changes/<int:pk>/edit/", change_order.change_order_edit, name="change_order_edit"),
    path("changes/<int:pk>/send/", change_order.change_order_send, name="change_order_send"),
    path("changes/<int:pk>/sign/", change_order.change_order_sign, name="change_order_sign"),
    path("changes/<int:pk>/decline/", change_order.change_order_decline, name="change_order_decline"),
    path("changes/<int:pk>/verbal/", change_order.change_order_verbal, name="change_order_verbal"),
    path("changes/<int:pk>/decide/", change_order.change_order_decide, name="change_order_decide"),
    path("changes/<int:pk>/withdraw/", change_order.change_order_withdraw, name="change_order_withdraw"),
    # guest
    path("q/<str:token>/", guest.guest_quote, name="guest_quote"),
    path("q/<str:token>/accept/", guest.guest_quote_accept, name="guest_quote_accept"),
    path("q/<str:token>/decline/", guest.guest_quote_decline, name="guest_quote_decline"),
    path("q/<str:token>/quote.pdf", guest.guest_quote_pdf, name="guest_quote_pdf"),
    path("c/<str:token>/", guest.guest_change, name="guest_change"),
    path("c/<str:token>/accept/", guest.guest_change_accept, name="guest_change_accept"),
    path("c/<str:token>/decline/", guest.guest_change_decline, name="guest_change_decline"),
    # design
    path("jobs/<int:job_pk>/designs/", design.design_list, name="design_list"),
    path("jobs/<int:job_pk>/designs/new/", design.design_create, name="design_create"),
    path("designs/<int:pk>/", design.design_detail, name="design_detail"),
    path("designs/<int:pk>/size/", design.design_size, name="design_size"),
    path("designs/<int:pk>/input/", design.design_input, name="design_input"),
    # shade (before the parts of a design, which are any word after the number)
    path("designs/<int:pk>/shade/", shade.shade_detail, name="shade_detail"),
    path("designs/<int:pk>/shade/run/", shade.shade_run, name="shade_run"),
    path("designs/<int:pk>/shade/check/", shade.shade_check, name="shade_check"),
    path("designs/<int:pk>/shade/scene/", shade.shade_scene, name="shade_scene"),
    # roof workspace (before the parts of a design, which are any word after the number)
    path("designs/<int:pk>/roof/", workspace.workspace, name="workspace"),
    path("designs/<int:pk>/roof/live/", workspace.workspace_live, name="workspace_live"),
    path("designs/<int:pk>/roof/detail/", workspace.workspace_detail, name="workspace_detail"),
    path("designs/<int:pk>/roof/clock/", roof_shade.workspace_clock, name="workspace_clock"),
    path("designs/<int:pk>/roof/heat/", roof_shade.workspace_heat, name="workspace_heat"),
    path("designs/<int:pk>/roof/strings/", roof_shade.workspace_strings, name="workspace_strings"),
    path("designs/<int:pk>/roof/save/", workspace.workspace_save, name="workspace_save"),
    path("designs/<int:pk>/roof/lay/", lay.lay_detail, name="lay_detail"),
    path("designs/<int:pk>/roof/lay/stop/", lay.lay_stop, name="lay_stop"),
    path("designs/<int:pk>/roof/lay/take/", lay.lay_take, name="lay_take"),
    path("designs/<int:pk>/<slug:part>/", design_edit.design_edit, name="design_edit"),
]
